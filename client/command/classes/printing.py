"""`ricalco print`: a batch's print runs, sent to a printer that is set as they need it."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from client.command.classes import cups
from client.command.classes.batches import printable_formats, wait_for_packs
from client.command.classes.classes import AS_JSON
from client.command.classes.service_key import open_service, service_options
from client.command.job.report import print_json, print_lines
from client.command.job.size_names import read_sheet
from ricalco_client.api import Ricalco
from ricalco_client.errors import ClientError
from ricalco_client.values import JsonObject


def read_printer(text: str) -> str:
    """An address of a printer, or the name of a queue.

    Raises:
        BadParameter: It is empty, or an address of another kind.
    """
    if not text.strip():
        raise click.BadParameter("Give an address, or the name of a queue (lpstat -e lists them).")
    if "://" in text and not text.startswith(cups.ADDRESSES):
        message = "A printer's address begins with ipp:// or ipps://, as ipp://192.0.2.7/ipp/print."
        raise click.BadParameter(message)
    return text


@dataclass(frozen=True, kw_only=True)
class _Wish:
    """Where a batch is printed, and how."""

    ricalco: Ricalco
    batch_id: str
    printer: str
    covers: bool
    as_it_can: bool


@click.command("print")
@click.argument("batch_id", metavar="BATCH")
@click.option(
    "--printer",
    required=True,
    metavar="ADDRESS",
    callback=lambda _context, _option, text: read_printer(text),
    help="As ipp://192.0.2.7/ipp/print, or the name of a queue of CUPS.",
)
@click.option(
    "--sheet", type=read_sheet, metavar="FORMAT", help="Only the run on these sheets, as a4."
)
@click.option("--covers", is_flag=True, help="Each student's cover too.")
@click.option(
    "--as-it-can", is_flag=True, help="Let a printer replace what it cannot do; else it refuses."
)
@service_options
@AS_JSON
def print_(batch_id: str, printer: str, **options: Any) -> None:
    """Print the runs of BATCH: at actual size, one-sided, each on its paper.

    It waits for packs that are still being made.
    """
    cups.check_tool(printer)
    wish = _Wish(
        ricalco=open_service(options),
        batch_id=batch_id,
        printer=printer,
        covers=options["covers"],
        as_it_can=options["as_it_can"],
    )
    quiet = options["as_json"]
    sent: list[JsonObject] = []
    for sheet_format in _formats(wish, options["sheet"], quiet=quiet):
        sent.append(_send(wish, sheet_format, sent))
        if not quiet:
            print_lines([_line(sent[-1])])
    if quiet:
        print_json(sent)
    else:
        print_lines(["Measure the sheet that the guide names before the others are used."])


def _formats(wish: _Wish, wanted: str | None, *, quiet: bool) -> list[str]:
    """The sheet formats to print, once all packs have ended.

    Raises:
        ClientError: There is none.
    """
    batch = wish.ricalco.batches.get(wish.batch_id)
    made = wait_for_packs(wish.ricalco, batch, quiet=quiet)
    formats = [name for name in printable_formats(made) if wanted in {None, name}]
    if not formats:
        raise ClientError(f"This batch has no print run{f' on {wanted}' if wanted else ''}.")
    return formats


def _send(wish: _Wish, sheet_format: str, before: list[JsonObject]) -> JsonObject:
    """Send one print run; returns what is told of it.

    Raises:
        ClientError: It was not printed; the error says what was before it.
    """
    with tempfile.TemporaryDirectory(prefix="ricalco-print-") as folder:
        job = _fetch(wish, sheet_format, Path(folder))
        try:
            number = cups.send(job, wish.printer, as_it_can=wish.as_it_can)
        except ClientError as error:
            done = "".join(f" Sent before: {_line(one)}" for one in before)
            raise type(error)(error.detail + done, code=error.code) from error
    return {
        "sheet_format": sheet_format,
        "printer": wish.printer,
        "job": number,
        "pages": job.ticket["pages"],
    }


def _fetch(wish: _Wish, sheet_format: str, folder: Path) -> cups.PrintJob:
    batches = wish.ricalco.batches
    what, covers = (wish.batch_id, sheet_format), wish.covers
    return cups.PrintJob(
        ticket=batches.ticket(*what, covers=covers),
        ticket_file=batches.download_ticket(*what, folder / "run.ipp", covers=covers),
        run=batches.download_print_run(*what, folder / "run.pdf", covers=covers),
    )


def _line(sent: JsonObject) -> str:
    return "{sheet_format}: job {job} at {printer}, {pages} pages.".format(**sent)
