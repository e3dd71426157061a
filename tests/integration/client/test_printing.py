"""`ricalco print`: what arrives at a printer is the print run, set as its ticket says.

The names of attributes and values that are looked for here are those of RFC 8011 (media, sides),
PWG 5101.1 (media names), PWG 5100.16 (print-scaling) and PWG 5100.13 (print-color-mode).
"""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import requests
from PIL import Image
from skimage import data

from client.command import exit_codes
from ricalco_client import Batch, Ricalco, StateRefused
from tests.integration.client.print_servers import Printer, cups_queue, model_printer
from tests.integration.service.conftest import Running, start

README = (Path(__file__).resolve().parents[3] / "README.md").read_text(encoding="utf-8")
(README_LINE,) = re.findall(r"^ipptool .*$", README, flags=re.MULTILINE)
A3, A4 = "iso_a3_297x420mm", "iso_a4_210x297mm"
#: A name with all that could end or change a line of a ticket.
CLASS = 'Thursday "7b" $uri · 静物 \\'
ARRIVES_AS = f"Thursday 7b $uri · 静物 · Jug {A4}"


@dataclass(frozen=True)
class Studio:
    """A service with a batch of two packs, one in grey on A4 and one in colour on A3."""

    service: Running
    key: str
    batch: Batch

    @property
    def ricalco(self) -> Ricalco:
        """The client library with the tutor's key."""
        return Ricalco(self.service.url, key=self.key)

    def print(self, *words: object, **settings: str) -> subprocess.CompletedProcess[str]:
        """Run `ricalco print` for the batch."""
        command = [sys.executable, "-m", "client.command", "print", self.batch.id]
        return subprocess.run(
            [*command, *map(str, words), "--service", self.service.url],
            env={**os.environ, "PYTHONPATH": str(Path.cwd()), "RICALCO_KEY": self.key, **settings},
            capture_output=True,
            text=True,
            timeout=150,
            check=False,
        )


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    folder = tmp_path_factory.mktemp("studio")
    service = start(folder / "service")
    made = requests.post(f"{service.url}/v1/tutors", json={"name": "Ada Bell"}, timeout=30)
    ricalco = Ricalco(service.url, key=made.json()["key"])
    Image.fromarray(data.astronaut()).save(folder / "photo.jpg", quality=92)
    group = ricalco.classes.create({"name": CLASS})
    ricalco.classes.add_students(group["id"], "Ann Lee\n李小龍\n".encode())
    colour = {"sheet": {"format": A3}, "tone": {"style": "colour"}}
    wish = {
        "title": "Jug",
        "reference_id": ricalco.references.upload(folder / "photo.jpg").id,
        "spec": {"support": {"width_mm": 180, "height_mm": 120}},
        "items": [{"student": "Ann Lee"}, {"student": "李小龍", "spec": colour}],
    }
    batch = ricalco.batches.wait(ricalco.batches.create(group["id"], wish).id, timeout_s=120)
    assert batch.sheet_formats == (A3, A4)
    yield Studio(service, made.json()["key"], batch)
    assert service.stop() == 0


@pytest.fixture(scope="module")
def queue(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Printer]:
    with cups_queue(tmp_path_factory.mktemp("cups")) as printer:
        yield printer


@pytest.mark.parametrize("covers", [False, True])
def test_the_ticket_says_how_the_run_is_printed(
    studio: Studio, tmp_path: Path, *, covers: bool
) -> None:
    batches, batch_id = studio.ricalco.batches, studio.batch.id
    ticket = batches.ticket(batch_id, A4, covers=covers)
    run = batches.download_print_run(batch_id, A4, tmp_path / "run.pdf", covers=covers)
    with pikepdf.open(run) as pdf:
        assert ticket["pages"] == len(pdf.pages)
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
    assert ticket["job_attributes"] == {
        "media": A4,
        "sides": "one-sided",
        "print-scaling": "none",
        "print-color-mode": "monochrome",
    }
    paths = {run["sheet_format"]: run["ticket"] for run in studio.batch.document["print_runs"]}
    assert ticket["links"]["self"] == paths[A4] + ("?covers=true" if covers else "")
    assert batches.ticket(batch_id, A3)["job_attributes"]["print-color-mode"] == "color"
    with pytest.raises(StateRefused):
        batches.ticket(batch_id, "iso_a2_420x594mm")


def test_sheets_are_grey_where_the_ticket_says_monochrome(studio: Studio, tmp_path: Path) -> None:
    batches = studio.ricalco.batches
    for sheet_format, coloured in ((A4, False), (A3, True)):
        run = tmp_path / f"{sheet_format}.pdf"
        pages = batches.ticket(studio.batch.id, sheet_format)["pages"]
        batches.download_print_run(studio.batch.id, sheet_format, run)
        # The last page is a sheet.
        drawn = ["pdftoppm", "-r", "20", "-f", str(pages), "-singlefile", run, run.with_suffix("")]
        subprocess.run(drawn, check=True)
        page = np.asarray(Image.open(run.with_suffix(".ppm"))).astype(int)
        assert page.min() < page.max()
        assert (np.ptp(page, axis=2).max() > 0) == coloured


def test_a_queue_of_cups_gets_each_run_with_its_attributes(
    studio: Studio, queue: Printer, tmp_path: Path
) -> None:
    done = studio.print("--printer", queue.name, "--covers", "--json", **queue.environment)
    assert done.returncode == exit_codes.DONE, done.stderr
    sent = json.loads(done.stdout)
    assert [one["sheet_format"] for one in sent] == [A3, A4]
    for one in sent:
        printed = queue.printed(one["job"])
        path = tmp_path / "run.pdf"
        studio.ricalco.batches.download_print_run(
            studio.batch.id, one["sheet_format"], path, covers=True
        )
        assert printed.document == path.read_bytes()
        assert printed.told["media"] == one["sheet_format"]
        assert (printed.told["sides"], printed.told["print-scaling"]) == ("one-sided", "none")
        colour = "color" if one["sheet_format"] == A3 else "monochrome"
        assert printed.told["print-color-mode"] == colour
    assert printed.told["title"] == ARRIVES_AS


def test_a_printer_s_address_gets_the_run_with_its_attributes(
    studio: Studio, tmp_path: Path
) -> None:
    run = studio.ricalco.batches.download_print_run(studio.batch.id, A4, tmp_path / f"{A4}.pdf")
    with model_printer(tmp_path / "printer") as printer:
        done = studio.print("--printer", printer.name, "--sheet", "a4")
        assert done.returncode == exit_codes.DONE, done.stderr
        assert done.stdout.startswith(f"{A4}: job 1 at {printer.name}, ")
        printed = printer.printed(1)
        assert printed.document == run.read_bytes()
        assert printed.told["MEDIA"] == A4
        assert (printed.told["SIDES"], printed.told["PRINT_SCALING"]) == ("one-sided", "none")
        assert printed.told["PRINT_COLOR_MODE"] == "monochrome"
        assert printed.told["JOB_NAME"] == ARRIVES_AS
        # By hand, as the README shows it.
        batches = studio.ricalco.batches
        batches.download_ticket(studio.batch.id, A4, run.with_name(f"{A4}.ipp"))
        shown = shlex.split(README_LINE.replace("ipp://192.0.2.7/ipp/print", printer.name))
        subprocess.run(shown, cwd=tmp_path, check=True, capture_output=True)
        assert printer.printed(2).document == run.read_bytes()
        # It has no A3: then it is sent nothing at all.
        done = studio.print("--printer", printer.name)
        assert done.returncode == exit_codes.FAILED
        assert f"it has no paper called {A3}" in done.stderr
        assert printer.jobs == 2


def test_a_printer_that_scales_is_printed_to_only_on_request(
    studio: Studio, tmp_path: Path
) -> None:
    with model_printer(tmp_path, "keyword print-scaling-supported auto,fit") as printer:
        words = ("--printer", printer.name, "--sheet", "a4")
        done = studio.print(*words, "--json")
        assert done.returncode == exit_codes.FAILED
        told = json.loads(done.stderr)
        assert told["code"] == "printer-refused"
        assert "it cannot print at actual size" in told["detail"]
        assert printer.jobs == 0
        done = studio.print(*words, "--as-it-can", "--json")
        assert done.returncode == exit_codes.DONE, done.stderr
        assert printer.printed(json.loads(done.stdout)[0]["job"]).told["MEDIA"] == A4


@pytest.mark.parametrize(
    ("printer", "code", "returned"),
    [
        # Nothing listens on port 9, the old "discard" (RFC 863).
        ("ipp://127.0.0.1:9/ipp/print", "printer-unreachable", exit_codes.FAILED),
        ("Nowhere", "printer-refused", exit_codes.FAILED),
        ("http://127.0.0.1/", "usage", exit_codes.USAGE),
        ("", "usage", exit_codes.USAGE),
    ],
)
def test_where_nothing_is_printed_the_command_says_why(
    studio: Studio, queue: Printer, printer: str, code: str, returned: int
) -> None:
    before = queue.jobs
    done = studio.print("--printer", printer, "--json", **queue.environment)
    assert done.returncode == returned, done.stderr
    assert json.loads(done.stderr)["code"] == code
    assert queue.jobs == before


@pytest.mark.parametrize(("printer", "tool"), [("ipp://[::1]/", "ipptool"), ("Studio", "lp")])
def test_without_the_tools_the_command_says_what_to_do(
    studio: Studio, tmp_path: Path, printer: str, tool: str
) -> None:
    done = studio.print("--printer", printer, PATH=str(tmp_path))
    assert done.returncode == exit_codes.NOT_READY
    assert f"Printing needs {tool} of CUPS" in done.stderr
    assert "apt install" in done.stderr
    assert "ricalco batch fetch" in done.stderr
