"""`ricalco plan`: what a pack would be, before paper is spent on it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.api import Ricalco
from client.command.job import local, remote
from client.command.job.corner_options import squaring
from client.command.job.options import spec_options
from client.command.job.report import plan_lines, print_json, print_lines
from client.command.job.specs import build_spec
from client.command.make import PHOTO


@click.command("plan")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option("--service", metavar="URL", help="Ask this service, not this machine.")
@click.option("--json", "as_json", is_flag=True, help="Tell the plan as JSON.")
def plan(photo: Path, **said: Any) -> None:
    """Show how PHOTO becomes sheets; writes no file."""
    spec = build_spec(said)
    how: dict[str, Any] = {"squaring": squaring(said)}
    how["accept_damaged"] = said["accept_damaged"]
    if said["service"]:
        document = _ask(said["service"], photo, spec, how)
    else:
        document = _here(photo, spec, how)
    if said["as_json"]:
        print_json(document)
    else:
        print_lines(plan_lines(document))


def _here(photo: Path, spec: dict[str, Any], how: dict[str, Any]) -> dict[str, Any]:
    with local.planned(photo, spec, **how) as desk:
        return local.plan_document(desk)


def _ask(service: str, photo: Path, spec: dict[str, Any], how: dict[str, Any]) -> dict[str, Any]:
    ricalco = Ricalco(service)
    with remote.uploaded(ricalco, photo, keep=False, **how) as reference_id:
        return ricalco.plan(reference_id, spec)
