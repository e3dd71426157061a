"""Squaring up by the command and the library, in process and at a service."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from client.command import exit_codes
from ricalco_client.api import Ricalco
from ricalco_client.errors import SpecRefused, StateRefused

Run = Callable[..., subprocess.CompletedProcess[str]]
JOB = ("--support", "20x20cm", "--sheet", "a4")
CORNERS = "0.1,0.05,0.9,10%,0.95,0.9,0.05,0.95"


def test_here_and_there_make_the_same_pack(
    ricalco: Run, photo: Path, tmp_path: Path, service: str
) -> None:
    packs = {}
    for where, to in (("here", ()), ("there", ("--service", service))):
        packs[where] = tmp_path / f"{where}.pdf"
        words = ("--corners", CORNERS, "--title", "Squared", "--out", packs[where])
        done = ricalco("make", photo, *JOB, *words, *to)
        assert done.returncode == 0, done.stderr
    assert packs["here"].read_bytes() == packs["there"].read_bytes()
    plain = tmp_path / "plain.pdf"
    ricalco("make", photo, *JOB, "--title", "Squared", "--out", plain)
    assert plain.read_bytes() != packs["here"].read_bytes()


def test_plans_agree_and_the_proportion_counts(ricalco: Run, photo: Path, service: str) -> None:
    words = ("plan", photo, *JOB, "--corners", CORNERS, "--json")
    here, there = ricalco(*words), ricalco(*words, "--service", service)
    assert json.loads(here.stdout) == json.loads(there.stdout)
    wide = json.loads(ricalco(*words, "--proportion", "2:1").stdout)
    # A square support takes half of a picture that is twice as wide as high.
    assert wide["crop"]["width"] == pytest.approx(0.5, abs=0.005)


@pytest.mark.parametrize("where", ["here", "there"])
@pytest.mark.parametrize(
    ("words", "option"),
    [
        (("--corners", "0,0,1,0,1,1,0.7,0.3"), "--corners"),
        (("--corners", "0,0,1,0,1,1,0,1.5"), "--corners"),
        (("--corners", CORNERS, "--proportion", "50:1"), "--proportion"),
        (("--proportion", "3:2"), "--proportion"),
    ],
)
def test_corners_that_will_not_do_are_one_line(
    ricalco: Run,
    photo: Path,
    tmp_path: Path,
    service: str,
    *,
    where: str,
    words: tuple[str, ...],
    option: str,
) -> None:
    to = ("--service", service) if where == "there" else ()
    done = ricalco("make", photo, *JOB, *words, *to, "--out", tmp_path / "pack.pdf")
    assert done.returncode == exit_codes.USAGE
    assert done.stdout == ""
    assert done.stderr.startswith(f"ricalco: {option}")
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_the_library_squares_up_and_deletes(service: str, photo: Path) -> None:
    client = Ricalco(service)
    original = client.references.upload(photo)
    corners = [(0.1, 0.05), (0.9, 0.1), (0.95, 0.9), (0.05, 0.95)]
    first, again = (
        client.references.square_up(original.id, corners, proportion=1.0, key="squared-once-0001")
        for _ in range(2)
    )
    assert first == again
    assert first.squared_from == original.id
    assert first.width_px == first.height_px
    with pytest.raises(SpecRefused) as caught:
        client.references.square_up(original.id, [(0, 0), (0.5, 0.5), (1, 1), (0, 1)])
    assert (caught.value.code, caught.value.field) == ("corners-unusable", "corners")
    client.references.delete(original.id)
    with pytest.raises(StateRefused):
        client.references.get(first.id)
