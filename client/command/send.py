"""`ricalco send`: ask a service for a pack, without waiting for it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.job import remote
from client.command.job.corner_options import square_up_options
from client.command.job.options import spec_options
from client.command.job.report import print_json, print_lines, summary_lines
from client.command.job.specs import build_spec, wants_faces
from client.command.make import PHOTO
from client.command.progress import progress_bar
from ricalco_client.api import Ricalco
from ricalco_client.values import Pack


@click.command("send")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option("--title", help="Printed on map and sheets (default: the photo's name).")
@click.option(
    "--service", metavar="URL", default=remote.DEFAULT_SERVICE, show_default=True, help="Where to."
)
@click.option("--wait", "wait", is_flag=True, help="Wait until the pack is ready.")
@click.option("--json", "as_json", is_flag=True, help="Tell the pack as JSON.")
def send(photo: Path, title: str | None, **options: Any) -> None:
    """Send PHOTO to a service, and go on.

    The service keeps the photo and makes the pack; where it will be is printed.
    """
    ricalco = Ricalco(options["service"])
    spec = build_spec(options)
    intake: dict[str, Any] = {"square_up": square_up_options(options), "keep": True}
    intake["accept_damaged"] = options["accept_damaged"]
    with remote.uploaded(ricalco, photo, **intake) as reference_id:
        if wants_faces(options):
            spec = remote.with_faces(ricalco, reference_id, spec)
        pack = ricalco.packs.create(
            reference_id, spec, title=photo.stem if title is None else title
        )
    if options["wait"]:
        with progress_bar(quiet=options["as_json"]) as report:
            pack = remote.wait(ricalco, pack, report)
    if options["as_json"]:
        print_json(pack.document)
    else:
        _print_pack(pack, options["service"].rstrip("/"))


def _print_pack(pack: Pack, service: str) -> None:
    click.echo(f"Pack {pack.id}: {pack.state}")
    if pack.plan:
        print_lines(summary_lines(pack.plan))
    click.echo(f"State: {service}/v1/packs/{pack.id}")
    click.echo(f"Pack:  {service}/v1/packs/{pack.id}/pack.pdf")
