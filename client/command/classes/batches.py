"""`ricalco batch`: packs for a class, for who works without the page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.api import Ricalco
from client.command.classes.classes import AS_JSON, FILE
from client.command.classes.service_key import class_called, open_service, service_options
from client.command.job.options import STYLES
from client.command.job.report import print_json, print_lines, table
from client.command.job.size_names import read_sheet, read_support
from client.command.job.sizes import read_length
from client.command.progress import bar
from client.values import Batch, JsonObject

_WISHES = (
    click.option("--table", "csv", type=FILE, metavar="CSV", help="Who gets what, as a table."),
    click.option("--photo", type=FILE, help="One photo for all (default: everyone's own)."),
    click.option("--support", type=read_support, metavar="SIZE", help="For all, as 50x35cm."),
    click.option("--sheet", type=read_sheet, metavar="FORMAT", help="Sheets for all."),
    click.option("--style", type=click.Choice(STYLES), help="How all are printed."),
    click.option("--grid", type=read_length, metavar="LENGTH", help="Squares over all, as 5cm."),
    click.option(
        "--as-asked",
        is_flag=True,
        help="Who has asked for a pack on their own device gets that one, on these sheets.",
    ),
    click.option("--title", default="", help="Printed on covers, maps and sheets."),
    click.option("--note", default="", help="A word to everyone, on the covers."),
)


@click.group("batch")
def batch() -> None:
    """Packs for a class: start, list, fetch."""


@batch.command("start")
@click.argument("called", metavar="CLASS")
@click.option("--try", "only_told", is_flag=True, help="Tell what it would take; make nothing.")
@click.option("--wait", "waits", is_flag=True, help="Wait until every pack has ended.")
@service_options
@AS_JSON
def start(called: str, **said: Any) -> None:
    """Make a pack for everyone in CLASS (its name or id), or for those in a table.

    The table has a column Student, and what differs: width_mm, height_mm, sheet, title, note.
    """
    if said["csv"] and any(said[name] for name in ("support", "sheet", "style", "grid")):
        message = "With --table, supports, sheets, styles and grids stand in its columns."
        raise click.UsageError(message)
    ricalco = open_service(said)
    class_id = class_called(ricalco, called)["id"]
    wish = _wish(ricalco, said)
    if said["only_told"]:
        _tell_estimate(ricalco.batches.estimate(class_id, wish), as_json=said["as_json"])
        return
    made = ricalco.batches.create(class_id, wish)
    if said["waits"]:
        made = _waited(ricalco, made, quiet=said["as_json"])
    _tell(made, as_json=said["as_json"])


for _option in reversed(_WISHES):
    start = _option(start)


@batch.command("list")
@click.argument("called", metavar="CLASS")
@service_options
@AS_JSON
def list_(called: str, **said: Any) -> None:
    """Show the batches of CLASS, the newest first."""
    ricalco = open_service(said)
    found = ricalco.batches.of_class(class_called(ricalco, called)["id"])
    if said["as_json"]:
        print_json([one.document for one in found])
        return
    rows = [(one.id, one.state, _counts(one), one.document["title"]) for one in found]
    print_lines(table(("id", "state", "packs", "title"), rows))


@batch.command("fetch")
@click.argument("batch_id")
@click.option(
    "--into",
    type=click.Path(file_okay=False, path_type=Path),
    required=True,
    help="Folder for the print runs, the archive and the table.",
)
@click.option("--covers", is_flag=True, help="Each student's cover in the print runs.")
@service_options
@AS_JSON
def fetch(batch_id: str, into: Path, **said: Any) -> None:
    """Fetch what was made: a print run for each kind of paper, all packs, who has what.

    It waits for packs that are still being made. Files of an earlier fetch are replaced.
    """
    ricalco = open_service(said)
    made = _waited(ricalco, ricalco.batches.get(batch_id), quiet=said["as_json"])
    batches = ricalco.batches
    paths = [
        batches.download_print_run(made.id, name, into / f"{name}.pdf", covers=said["covers"])
        for name in _printable(made)
    ]
    paths.append(batches.download_archive(made.id, into / "packs.zip"))
    paths.append(batches.download_table(made.id, into / "table.csv"))
    if said["as_json"]:
        print_json([str(path) for path in paths])
    else:
        print_lines(map(str, paths))


def _wish(ricalco: Ricalco, said: dict[str, Any]) -> JsonObject:
    """The batch as the service is asked for it; the photo for all is sent first."""
    wish: JsonObject = {name: said[name] for name in ("title", "note", "as_asked")}
    if said["photo"]:
        known = ricalco.references.find(said["photo"])
        wish["reference_id"] = (known or ricalco.references.upload(said["photo"])).id
    if said["csv"]:
        return {**wish, "table": said["csv"].read_bytes()}
    spec: JsonObject = {}
    if said["support"]:
        size = said["support"]
        spec["support"] = {"width_mm": size.width_mm, "height_mm": size.height_mm}
    if said["sheet"]:
        spec["sheet"] = {"format": said["sheet"]}
    if said["style"]:
        spec["tone"] = {"style": said["style"]}
    if said["grid"]:
        spec["grid"] = {"square_mm": said["grid"]}
    return {**wish, "spec": spec}


def _waited(ricalco: Ricalco, made: Batch, *, quiet: bool) -> Batch:
    with bar(quiet=quiet) as report:

        def tell(now: Batch) -> None:
            progress = now.document["progress"]
            report(progress["done"], progress["total"], now.state)

        return ricalco.batches.wait(made.id, progress=tell)


def _printable(made: Batch) -> list[str]:
    return [run["sheet_format"] for run in made.document["print_runs"] if run["ready"]]


def _tell(made: Batch, *, as_json: bool) -> None:
    if as_json:
        print_json(made.document)
        return
    print_lines([f"{made.id}: {made.state}, {_counts(made)}"])
    print_lines(_left_out(made.document["items"]))


def _tell_estimate(told: JsonObject, *, as_json: bool) -> None:
    if as_json:
        print_json(told)
        return
    parts = [_counted(told[f"{one}s"], one) for one in ("pack", "sheet", "page")]
    print_lines([f"{', '.join(parts)} in all."])
    rows = [(_whose(one), str(one.get("sheets", "–"))) for one in told["items"]]
    print_lines(table(("student", "sheets"), rows))
    print_lines(_left_out(told["items"]))


def _counted(number: int, one: str) -> str:
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def _left_out(items: list[JsonObject]) -> list[str]:
    """Who has no pack, and why."""
    return [f"Left out: {_whose(one)}: {one['error']['detail']}" for one in items if "error" in one]


def _whose(item: JsonObject) -> str:
    return str(item["student"]["name"]) if item["student"] else "your own copy"


def _counts(made: Batch) -> str:
    return ", ".join(f"{count} {name}" for name, count in sorted(made.counts.items()))
