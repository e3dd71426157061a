"""`ricalco calibrate` and `ricalco printers`: a page, a verdict, options to paste."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import click
import pikepdf
import pytest

from client.command import main as command
from client.command import printers as printing
from client.command.job.options import spec_options
from client.command.job.printer_options import options_as_text
from client.command.job.specs import build_spec
from ricalco_client.api import Ricalco
from ricalco_client.values import Printer
from worker.spec.json import load_spec

A4 = "iso_a4_210x297mm"


def test_the_page_is_written_whole(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "new" / "letter.pdf"
    assert command.run(["calibrate", "page", "--sheet", "letter", "--out", str(out)]) == 0
    with pikepdf.open(out) as document:
        # ANSI/ASME Y14.1, size A: 8.5 × 11 in.
        assert [float(side) for side in document.pages[0].MediaBox] == [0, 0, 612, 792]
    assert [path.name for path in out.parent.iterdir()] == ["letter.pdf"]
    printed = capsys.readouterr().out
    assert "actual size" in printed
    assert "calibrate read --sheet na_letter_8.5x11in" in printed


def test_a_file_of_another_kind_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "notes.txt"
    out.write_text("mine")
    assert command.run(["calibrate", "page", "--out", str(out)]) == 2
    assert out.read_text() == "mine"
    assert "--force" in capsys.readouterr().err


def test_readings_become_options(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--across", "199.2mm", "--down", "7 7/8in", "--margins", "3,4,18,4"]
    assert command.run(["calibrate", "read", *words, "--printer", "Attic, left"]) == 0
    printed = capsys.readouterr().out
    assert "0.40 % too short" in printed
    assert "nothing is corrected" in printed
    wanted = "--margins 3,4,18,4 --across-correction 1.00402 --printer 'Attic, left'"
    assert f"--sheet {A4} {wanted}" in printed
    assert "--down-correction" not in printed


def test_options_say_what_the_printer_does() -> None:
    """The printed options are parsed by the command itself."""
    part = {
        "sheet": {"format": A4, "margin_mm": {"top": 3, "right": 4, "bottom": 18, "left": 4}},
        "print": {"across_correction": 1.00402, "down_correction": 0.9951, "printer": "It's mine"},
    }
    found = {}

    @click.command()
    @spec_options
    def read(**options: object) -> None:
        found.update(build_spec(options))

    words = shlex.split(options_as_text(part))
    read.main(["--support", "60x40cm", *words], standalone_mode=False)
    assert found["print"] == part["print"]
    spec = load_spec(found)
    assert load_spec({**found, **part}) == spec


def test_json_is_for_scripts(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.run(["calibrate", "read", "--across", "201.2mm", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["across"]["verdict"] == "corrected"
    assert told["spec"]["print"]["across_correction"] == pytest.approx(200 / 201.2, abs=1e-6)
    assert told["down"] is None


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--across", "190mm"], "--across: It measures 95.0 % of its length; that is page fitting"),
        (
            ["--down", "7.87mm"],
            "--down: 7.87 mm cannot be this bar of 200 mm: did you read inches?",
        ),
        (["--across", "199.2"], "has no unit"),
        (["--margins", "3,3,40,3"], "--margins: The staircase has steps 0 to 20, not 40"),
        (["--margins", "3,3,3"], "is no set of margins"),
        ([], "Give --across, --down or --margins"),
    ],
)
def test_what_cannot_be_used_is_told_in_a_line(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command.run(["calibrate", "read", *words]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.err.count("\n") == 1
    assert not told.out


def test_a_services_printers_are_listed_with_their_options(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    document = {
        "id": "prn_1",
        "name": "Attic",
        "format": A4,
        "across_correction": 1.004,
        "down_correction": 1.0,
        "margin_mm": None,
    }
    found = [Printer.read(document)]

    class Listing:
        def list(self) -> tuple[Printer, ...]:
            return tuple(found)

    class Service(Ricalco):
        def __init__(self, base_url: str) -> None:
            super().__init__(base_url)
            self.printers = Listing()  # type: ignore[assignment]

    monkeypatch.setattr(printing, "Ricalco", Service)
    assert command.run(["printers"]) == 0
    wanted = f"Attic:\n  --sheet {A4} --across-correction 1.004 --printer Attic\n"
    assert capsys.readouterr().out == wanted
    assert command.run(["printers", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == [document]
    found.clear()
    assert command.run(["printers"]) == 0
    assert "None yet" in capsys.readouterr().out
