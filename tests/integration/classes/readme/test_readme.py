"""The README's examples, run as they are printed, one after another, against a real service."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import requests

from ricalco_client.api import Ricalco
from tests.integration.classes.conftest import Running, open_room

README = (Path(__file__).resolve().parents[4] / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```", README, flags=re.MULTILINE | re.DOTALL)
NAMES = ("Ada Okafor", "王小明")


def example(language: str, word: str) -> str:
    """The one example in a language that has a word in it."""
    (found,) = [text for kind, text in BLOCKS if kind == language and word in text]
    return str(found)


@pytest.fixture
def here(tmp_path: Path, photo: bytes, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a photo in it, to work in."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "photo.jpg").write_bytes(photo)
    return tmp_path


@pytest.mark.skipif(shutil.which("curl") is None, reason="There is no curl on this machine.")
def test_the_calls_with_curl(running: Running, here: Path) -> None:
    calls = example("sh", "file=@photo.jpg").replace("http://127.0.0.1:8640", running.url)
    upload, ask = re.findall(r"^curl .*(?:\n .*)*", calls, flags=re.MULTILINE)
    taken = json.loads(shell(upload, here))
    assert (taken["width_px"], taken["format"]) == (512, "jpeg")
    asked = json.loads(shell(ask.replace("ref_…", taken["id"]), here))
    assert Ricalco(running.url).packs.wait(asked["id"], timeout_s=60).state == "ready"


@pytest.mark.skipif(shutil.which("curl") is None, reason="There is no curl on this machine.")
def test_the_document_is_fetched_as_text(running: Running, here: Path) -> None:
    served = requests.get(f"{running.url}/v1/openapi.json", timeout=60).json()
    as_text = example("sh", "json.tool").replace("http://127.0.0.1:8640", running.url)
    assert json.loads(shell(as_text, here)) == served


def shell(line: str, folder: Path) -> str:
    """What a line in a shell prints."""
    ended = subprocess.run(["sh", "-c", line], cwd=folder, capture_output=True, check=True)
    return ended.stdout.decode()


def test_a_pack_from_python_then_a_class(running: Running, here: Path) -> None:
    said: dict[str, Any] = {}
    run(example("python", "packs.create"), running, said)
    with pikepdf.open(here / "pack.pdf") as pdf:
        assert len(pdf.pages) == 3 + said["pack"].plan["sheet_count"]
    # Whoever is the first tutor takes over what was made before.
    room = open_room(running, NAMES)
    said |= {"class_id": room.class_id, "photos": dict.fromkeys(NAMES, "photo.jpg")}
    run(example("python", "batches.estimate"), running, said, key=room.tutor.key)
    assert (here / "packs.zip").stat().st_size > 0
    assert [path.name for path in here.glob("iso_*.pdf")] == ["iso_a4_210x297mm.pdf"]
    wish = json.loads(example("json", '"items"').replace("ref_…", said["photo"].id))
    made = room.tutor.post(room.batches, wish)
    assert made.status_code == 202, made.text
    assert papers_of(room.tutor.ended(made.json()["links"]["self"])) == {"a3", "a4"}
    table = example("", "Student;").encode()
    given = {"data": table, "headers": {"Content-Type": "text/csv"}}
    made = room.tutor.post(f"{room.batches}?reference_id={said['photo'].id}", **given)
    assert made.status_code == 202, made.text
    assert papers_of(room.tutor.ended(made.json()["links"]["self"])) == {"a3", "a4"}


def run(program: str, running: Running, said: dict[str, Any], key: str = "") -> None:
    """Run an example; what it calls things stays in `said` for the next."""
    program = program.replace("http://127.0.0.1:8640", running.url).replace("rck_…", key)
    exec(compile(program, "README.md", "exec"), said)  # noqa: S102 -- It is our own README.


def papers_of(batch: dict[str, Any]) -> set[str]:
    """The kinds of paper that a batch is printed on."""
    assert batch["state"] == "ready", batch
    return {one["sheet_format"].split("_")[1] for one in batch["print_runs"]}
