"""`ricalco plan`: the sheets of a pack, without making it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.job import local, remote
from client.command.job.corner_options import square_up_options
from client.command.job.options import spec_options
from client.command.job.report import plan_lines, print_json, print_lines
from client.command.job.specs import build_spec, wants_faces
from client.command.make import PHOTO
from ricalco_client.api import Ricalco


@click.command("plan")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option("--service", metavar="URL", help="Ask this service, not this machine.")
@click.option("--json", "as_json", is_flag=True, help="Tell the plan as JSON.")
def plan(photo: Path, **options: Any) -> None:
    """Show how PHOTO becomes sheets; writes no file."""
    spec = build_spec(options)
    intake: dict[str, Any] = {"square_up": square_up_options(options)}
    intake["accept_damaged"] = options["accept_damaged"]
    if options["service"]:
        document = _plan_remotely(photo, spec, intake, options)
    else:
        intake["protect_faces"] = wants_faces(options)
        document = _plan_locally(photo, spec, intake)
    if options["as_json"]:
        print_json(document)
    else:
        print_lines(plan_lines(document))


def _plan_locally(photo: Path, spec: dict[str, Any], intake: dict[str, Any]) -> dict[str, Any]:
    with local.planned_job(photo, spec, **intake) as job:
        return local.plan_document(job)


def _plan_remotely(
    photo: Path, spec: dict[str, Any], intake: dict[str, Any], options: dict[str, Any]
) -> dict[str, Any]:
    ricalco = Ricalco(options["service"])
    with remote.uploaded(ricalco, photo, keep=False, **intake) as reference_id:
        if wants_faces(options):
            spec = remote.with_faces(ricalco, reference_id, spec)
        return ricalco.plan(reference_id, spec)
