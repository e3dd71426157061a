"""`ricalco batch`: packs for a whole class, from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.classes.classes import AS_JSON, FILE
from client.command.classes.service_key import find_class, open_service, service_options
from client.command.job.options import STYLES
from client.command.job.report import print_json, print_lines, table
from client.command.job.size_names import read_sheet, read_support
from client.command.job.sizes import read_length
from client.command.progress import progress_bar
from ricalco_client.api import Ricalco
from ricalco_client.values import Batch, JsonObject

_START_OPTIONS = (
    click.option(
        "--table", "table_file", type=FILE, metavar="CSV", help="Who gets what, as a table."
    ),
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
@click.argument("class_name", metavar="CLASS")
@click.option("--try", "estimate_only", is_flag=True, help="Tell what it would take; make nothing.")
@click.option("--wait", "wait", is_flag=True, help="Wait until every pack has ended.")
@service_options
@AS_JSON
def start(class_name: str, **options: Any) -> None:
    """Make a pack for everyone in CLASS (its name or id), or for those in a table.

    The table has a column Student, and what differs: width_mm, height_mm, sheet, title, note.
    """
    if options["table_file"] and any(
        options[name] for name in ("support", "sheet", "style", "grid")
    ):
        message = "With --table, supports, sheets, styles and grids stand in its columns."
        raise click.UsageError(message)
    ricalco = open_service(options)
    class_id = find_class(ricalco, class_name)["id"]
    request = _request(ricalco, options)
    if options["estimate_only"]:
        _print_estimate(ricalco.batches.estimate(class_id, request), as_json=options["as_json"])
        return
    made = ricalco.batches.create(class_id, request)
    if options["wait"]:
        made = _wait(ricalco, made, quiet=options["as_json"])
    _print_result(made, as_json=options["as_json"])


for _option in reversed(_START_OPTIONS):
    start = _option(start)


@batch.command("list")
@click.argument("class_name", metavar="CLASS")
@service_options
@AS_JSON
def list_(class_name: str, **options: Any) -> None:
    """Show the batches of CLASS, the newest first."""
    ricalco = open_service(options)
    found = ricalco.batches.of_class(find_class(ricalco, class_name)["id"])
    if options["as_json"]:
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
def fetch(batch_id: str, into: Path, **options: Any) -> None:
    """Fetch what was made: a print run for each kind of paper, all packs, who has what.

    It waits for packs that are still being made. Files of an earlier fetch are replaced.
    """
    ricalco = open_service(options)
    made = _wait(ricalco, ricalco.batches.get(batch_id), quiet=options["as_json"])
    batches = ricalco.batches
    paths = [
        batches.download_print_run(made.id, name, into / f"{name}.pdf", covers=options["covers"])
        for name in _printable(made)
    ]
    paths.append(batches.download_archive(made.id, into / "packs.zip"))
    paths.append(batches.download_table(made.id, into / "table.csv"))
    if options["as_json"]:
        print_json([str(path) for path in paths])
    else:
        print_lines(map(str, paths))


def _request(ricalco: Ricalco, options: dict[str, Any]) -> JsonObject:
    """The request body for a batch; a photo for all is uploaded first."""
    request: JsonObject = {name: options[name] for name in ("title", "note", "as_asked")}
    if options["photo"]:
        known = ricalco.references.find(options["photo"])
        request["reference_id"] = (known or ricalco.references.upload(options["photo"])).id
    if options["table_file"]:
        return {**request, "table": options["table_file"].read_bytes()}
    spec: JsonObject = {}
    if options["support"]:
        size = options["support"]
        spec["support"] = {"width_mm": size.width_mm, "height_mm": size.height_mm}
    if options["sheet"]:
        spec["sheet"] = {"format": options["sheet"]}
    if options["style"]:
        spec["tone"] = {"style": options["style"]}
    if options["grid"]:
        spec["grid"] = {"square_mm": options["grid"]}
    return {**request, "spec": spec}


def _wait(ricalco: Ricalco, made: Batch, *, quiet: bool) -> Batch:
    with progress_bar(quiet=quiet) as report:

        def report_progress(now: Batch) -> None:
            progress = now.document["progress"]
            report(progress["done"], progress["total"], now.state)

        return ricalco.batches.wait(made.id, progress=report_progress)


def _printable(made: Batch) -> list[str]:
    return [run["sheet_format"] for run in made.document["print_runs"] if run["ready"]]


def _print_result(made: Batch, *, as_json: bool) -> None:
    if as_json:
        print_json(made.document)
        return
    print_lines([f"{made.id}: {made.state}, {_counts(made)}"])
    print_lines(_left_out(made.document["items"]))


def _print_estimate(estimate: JsonObject, *, as_json: bool) -> None:
    if as_json:
        print_json(estimate)
        return
    parts = [_counted(estimate[f"{one}s"], one) for one in ("pack", "sheet", "page")]
    print_lines([f"{', '.join(parts)} in all."])
    rows = [(_student_name(one), str(one.get("sheets", "–"))) for one in estimate["items"]]
    print_lines(table(("student", "sheets"), rows))
    print_lines(_left_out(estimate["items"]))


def _counted(number: int, one: str) -> str:
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def _left_out(items: list[JsonObject]) -> list[str]:
    """Lines about students without a pack, with the reason."""
    return [
        f"Left out: {_student_name(one)}: {one['error']['detail']}"
        for one in items
        if "error" in one
    ]


def _student_name(item: JsonObject) -> str:
    return str(item["student"]["name"]) if item["student"] else "your own copy"


def _counts(made: Batch) -> str:
    return ", ".join(f"{count} {name}" for name, count in sorted(made.counts.items()))
