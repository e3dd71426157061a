"""`ricalco calibrate`: the test page of a printer, and what readings of it mean."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from client.command.job.language_option import LANGUAGE_OPTION
from client.command.job.option_values import parse_margins
from client.command.job.outputs import check_output
from client.command.job.printer_options import options_as_text
from client.command.job.report import print_json, print_lines
from client.command.job.size_names import read_sheet
from client.command.job.sizes import read_length
from ricalco_client.files import atomic_file

if TYPE_CHECKING:
    from worker.layout.measuring.printer_readings import Reading

_SHEET = click.option(
    "--sheet",
    type=read_sheet,
    metavar="NAME",
    default="a4",
    show_default=True,
    help="What the printer takes: a4, letter, a3, or a PWG 5101.1 name.",
)
_WIDTH = 88
_EDGES = ("top", "right", "bottom", "left")


@click.group("calibrate")
def calibrate() -> None:
    """Measure a printer, and correct packs for what it does to lengths."""


@calibrate.command("page")
@_SHEET
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default="test-page.pdf",
    show_default=True,
    help="Where to.",
)
@LANGUAGE_OPTION
@click.option("--force", is_flag=True, help="Replace a file of another kind.")
def page(*, sheet: str, out: Path, language: str | None, force: bool) -> None:
    """Write the test page of a sheet as PDF.

    Print it at actual size (100 %), let it dry, and measure as it says.
    """
    from worker.pages.calibration.page import write_test_page
    from worker.spec.formats import sheet_format
    from worker.words.languages import DEFAULT

    check_output(out, "PDF", force=force)
    with atomic_file(out) as file:
        write_test_page(Path(file.name), sheet_format(sheet), language or DEFAULT)
    click.echo(f"Written: {out}")
    click.echo("Print it at actual size (100 %), measure both bars with a steel rule, then run:")
    click.echo(
        f"  ricalco calibrate read --sheet {sheet} --across LENGTH --down LENGTH --margins T,R,B,L"
    )


@calibrate.command("read")
@_SHEET
@click.option("--across", type=read_length, metavar="LENGTH", help="The bar across, as 199.2mm.")
@click.option("--down", type=read_length, metavar="LENGTH", help="The bar down, as 7.87in.")
@click.option(
    "--margins",
    type=parse_margins,
    metavar="STEPS",
    help="The first whole step on each edge: top,right,bottom,left.",
)
@click.option("--printer", metavar="NAME", help="What you call it; stated on the packs.")
@click.option("--json", "as_json", is_flag=True, help="Tell it as JSON.")
def read(*, as_json: bool, **options: Any) -> None:
    """Say what the readings of a test page mean.

    And which options of make, plan and send correct a pack for that printer. Give each
    length with its unit.
    """
    if options["across"] is None and options["down"] is None and options["margins"] is None:
        raise click.UsageError("Give --across, --down or --margins: what you read off the page.")
    document = _evaluate(**options)
    if as_json:
        print_json(document)
    else:
        print_lines(_lines(document))


def _evaluate(
    *,
    sheet: str,
    across: float | None,
    down: float | None,
    margins: tuple[float, ...] | None,
    printer: str | None,
) -> dict[str, Any]:
    """The readings judged, and the part of a spec that corrects for them.

    Raises:
        PageFitting, ReadingImplausible: With the option at fault.
    """
    from worker.layout.measuring.printer_readings import (
        bars_of,
        judge,
        margins_of_steps,
        usable_correction,
    )
    from worker.spec.formats import sheet_format

    bars = bars_of(sheet_format(sheet))
    read_across = None if across is None else judge(across, bars.across_mm)
    read_down = None if down is None else judge(down, bars.down_mm)
    spec: dict[str, Any] = {
        "sheet": {"format": sheet},
        "print": {
            "across_correction": usable_correction(read_across, "across_mm"),
            "down_correction": usable_correction(read_down, "down_mm"),
        },
    }
    if margins is not None:
        steps = margins_of_steps(dict(zip(_EDGES, margins, strict=True)))  # type: ignore[arg-type] # zip loses which words they are.
        spec["sheet"]["margin_mm"] = asdict(steps)
    if printer:
        spec["print"]["printer"] = printer
    return {"across": _asdict(read_across), "down": _asdict(read_down), "spec": spec}


def _asdict(reading: Reading | None) -> dict[str, Any] | None:
    return None if reading is None else asdict(reading)


def _lines(document: dict[str, Any]) -> Iterator[str]:
    """What was measured, what it means, and the options that correct a pack for it."""
    for way in ("across", "down"):
        reading = document[way]
        if reading is not None:
            sentence = (
                f"{way.capitalize()}: {reading['measured_mm']:.4g} mm of "
                f"{reading['nominal_mm']:.4g} mm. {reading['advice']}"
            )
            if reading["verdict"] == "corrected":
                sentence += f" The reading leaves ± {reading['uncertainty'] * 100:.2f} %."
            yield from textwrap.wrap(sentence, _WIDTH, subsequent_indent="  ")
    yield "For make, plan and send:"
    yield f"  {options_as_text(document['spec'])}"
