"""`ricalco sites`: a tutor's course sites, from the command line."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import click

from client.command.classes.service_key import find_class, meant, open_service, service_options
from client.command.job.report import print_json, print_lines, table
from ricalco_client.api import Ricalco
from ricalco_client.values import JsonObject

AS_JSON = click.option("--json", "as_json", is_flag=True, help="Tell it as JSON.")
_KEY_NOTICE = (
    "This key is for the site's server. It is shown this once: keep it where no page and no "
    "repository has it."
)


@click.group("sites")
def sites() -> None:
    """Course sites that work in your classes: list, create, keys, delete, log."""


@sites.command("list")
@service_options
@AS_JSON
def list_(**options: Any) -> None:
    """Show your course sites."""
    found = open_service(options).sites.every()
    if options["as_json"]:
        print_json(found)
        return
    rows = [
        (
            one["name"],
            one["id"],
            f"{len(one['class_ids'])} classes",
            "over" if one["expired"] else f"until {one['expires_at'][:10]}",
            f"used {one['last_used_at'][:10]}" if one["last_used_at"] else "never used",
        )
        for one in found
    ]
    print_lines(table(("name", "id", "where", "how long", "last"), rows))


@sites.command("create")
@click.argument("name")
@click.option(
    "--class",
    "classes",
    multiple=True,
    metavar="CLASS",
    help="A class in which it works, by name or id; repeat it (default: all that you have now).",
)
@click.option(
    "--scope", "scopes", multiple=True, help="What it may do; repeat it (default: delete nothing)."
)
@click.option(
    "--origin",
    "origins",
    multiple=True,
    metavar="ORIGIN",
    help="Of its pages: https://course.example",
)
@click.option("--days", type=click.IntRange(1, 1095), help="For how long (default: a year).")
@service_options
@AS_JSON
def create(name: str, **options: Any) -> None:
    """Make the course site NAME, and print its key."""
    ricalco = open_service(options)
    wish: JsonObject = {"name": name, "origins": list(options["origins"])}
    if options["classes"]:
        wish["class_ids"] = [find_class(ricalco, one)["id"] for one in options["classes"]]
    if options["scopes"]:
        wish["scopes"] = list(options["scopes"])
    if options["days"]:
        ends = datetime.now(UTC) + timedelta(days=options["days"])
        wish["expires_at"] = ends.isoformat()
    _print_key(ricalco.sites.create(wish), as_json=options["as_json"])


@sites.command("key")
@click.argument("site")
@click.option("--label", default="", help="What it is for.")
@click.option("--withdraw", metavar="KEY_ID", help="Withdraw this key instead, at once.")
@service_options
@AS_JSON
def key(site: str, label: str, withdraw: str | None, **options: Any) -> None:
    """Make another key for SITE (its name or id); the others open as before."""
    ricalco = open_service(options)
    site_id = _find(ricalco, site)["id"]
    if withdraw is not None:
        ricalco.sites.withdraw_key(site_id, withdraw)
        return
    made = ricalco.sites.issue_key(site_id, label)
    if not options["as_json"]:
        rows = [
            (one["id"], one["label"], (one["last_used_at"] or "never")[:10])
            for one in ricalco.sites.keys(site_id)
        ]
        click.echo("\n".join(table(("key", "label", "last used"), rows)), err=True)
    _print_key(made, as_json=options["as_json"])


@sites.command("delete")
@click.argument("site")
@service_options
def delete(site: str, **options: Any) -> None:
    """Delete SITE; students stay in their classes with their photos and packs."""
    ricalco = open_service(options)
    found = _find(ricalco, site)
    ricalco.sites.delete(found["id"])
    click.echo(found["when_deleted"], err=True)


@sites.command("log")
@click.argument("site")
@click.option("--most", type=click.IntRange(1), default=100, show_default=True, help="Lines.")
@service_options
@AS_JSON
def log(site: str, most: int, **options: Any) -> None:
    """Show what SITE did, the newest first."""
    ricalco = open_service(options)
    lines = ricalco.sites.log(_find(ricalco, site)["id"])
    found = [line for line, _ in zip(lines, range(most), strict=False)]
    if options["as_json"]:
        print_json(found)
        return
    rows = [(one["at"][:19], one["action"], one["about"] or "") for one in found]
    print_lines(table(("when", "what", "about"), rows))


def _print_key(made: JsonObject, *, as_json: bool) -> None:
    if as_json:
        print_json(made)
        return
    click.echo(made["key"])
    click.echo(_KEY_NOTICE, err=True)


def _find(ricalco: Ricalco, name_or_id: str) -> JsonObject:
    """The course site of this name or id.

    Raises:
        UsageError: There is none, or several have this name.
    """
    return meant(name_or_id, ricalco.sites.every(), ("course site", "course sites"))
