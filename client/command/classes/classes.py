"""`ricalco class`: a tutor's classes and rosters, from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.classes.service_key import find_class, open_service, service_options
from client.command.job.report import print_json, print_lines, table
from client.command.job.size_names import read_sheet, read_support
from ricalco_client.values import JsonObject

FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Tell it as JSON.")


@click.group("class")
def class_() -> None:
    """Classes and rosters: list, create, add students."""


@class_.command("list")
@service_options
@AS_JSON
def list_(**options: Any) -> None:
    """Show your classes."""
    found = open_service(options).classes.every()
    if options["as_json"]:
        print_json(found)
        return
    rows = [(one["name"], one["id"], one.get("join_code", ""), _state(one)) for one in found]
    print_lines(table(("name", "id", "code", "joining"), rows))


@class_.command("create")
@click.argument("name")
@click.option(
    "--support",
    type=read_support,
    metavar="SIZE",
    help="What students start from, as 50x35cm (default: they say it themselves).",
)
@click.option("--sheet", type=read_sheet, metavar="FORMAT", help="Sheets that they start from.")
@click.option("--open", "joining_open", is_flag=True, help="Let students join at once.")
@service_options
@AS_JSON
def create(name: str, **options: Any) -> None:
    """Make the class NAME, and print its id and class code."""
    defaults: JsonObject = {}
    if options["support"]:
        size = options["support"]
        defaults["support"] = {"width_mm": size.width_mm, "height_mm": size.height_mm}
    if options["sheet"]:
        defaults["sheet"] = {"format": options["sheet"]}
    request = {
        "name": name,
        "joining_open": options["joining_open"],
        "settings": {"defaults": defaults},
    }
    made = open_service(options).classes.create(request)
    if options["as_json"]:
        print_json(made)
        return
    print_lines(
        [f"{made['name']}: {made['id']}", f"Class code {made['join_code']}: {_state(made)}"]
    )
    print_lines([made["join_url"]])


@class_.command("roster")
@click.argument("class_name", metavar="CLASS")
@click.option("--add", type=FILE, metavar="CSV", help="List or table with the names to add.")
@service_options
@AS_JSON
def roster(class_name: str, add: Path | None, **options: Any) -> None:
    """Show the roster of CLASS (its name or id); with --add, put names on it first."""
    ricalco = open_service(options)
    class_id = find_class(ricalco, class_name)["id"]
    if add is not None:
        added, known = ricalco.classes.add_students(class_id, add.read_bytes())
        click.echo(f"{len(added)} added, {len(known)} were there.", err=True)
    students = ricalco.classes.students(class_id)
    if options["as_json"]:
        print_json(students)
        return
    rows = [
        (str(place), one["name"], one["id"], "joined" if one["joined"] else "")
        for place, one in enumerate(students, 1)
    ]
    print_lines(table(("place", "name", "id", ""), rows))


def _state(one: JsonObject) -> str:
    if one["closed"]:
        return "over"
    return "open" if one["joining_open"] else "closed"
