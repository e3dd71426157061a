"""`ricalco printers`: the printers that a service keeps, with their options for a pack."""

from __future__ import annotations

from collections.abc import Iterator

import click

from client.command.job import remote
from client.command.job.printer_options import options_as_text
from client.command.job.report import print_json, print_lines
from ricalco_client.api import Ricalco
from ricalco_client.values import Printer


@click.command("printers")
@click.option(
    "--service", metavar="URL", default=remote.DEFAULT_SERVICE, show_default=True, help="Which one."
)
@click.option("--json", "as_json", is_flag=True, help="Tell them as JSON.")
def printers(*, service: str, as_json: bool) -> None:
    """List the printers that a service keeps.

    With the options of make, plan and send that correct a pack for each.
    """
    found = Ricalco(service).printers.list()
    if as_json:
        print_json([printer.document for printer in found])
    elif found:
        print_lines(_lines(found))
    else:
        click.echo("None yet: print a test page (ricalco calibrate page) and measure it.")


def _lines(found: tuple[Printer, ...]) -> Iterator[str]:
    for printer in found:
        yield f"{printer.name}:"
        yield f"  {options_as_text(printer.spec)}"
