"""`ricalco send`: give a photo to a service and go on with something else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.api import Ricalco
from client.command.job import remote
from client.command.job.corner_options import squaring
from client.command.job.options import spec_options
from client.command.job.report import print_json, print_lines, summary_lines
from client.command.job.specs import build_spec
from client.command.make import PHOTO
from client.command.progress import bar
from client.values import Pack


@click.command("send")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option("--title", help="Printed on map and sheets (default: the photo's name).")
@click.option(
    "--service", metavar="URL", default=remote.USUAL_SERVICE, show_default=True, help="Where to."
)
@click.option("--wait", "waits", is_flag=True, help="Wait until the pack is ready.")
@click.option("--json", "as_json", is_flag=True, help="Tell the pack as JSON.")
def send(photo: Path, title: str | None, **said: Any) -> None:
    """Send PHOTO to a service, and go on.

    The service keeps the photo and makes the pack; where it will be is printed.
    """
    ricalco = Ricalco(said["service"])
    spec = build_spec(said)
    how: dict[str, Any] = {"squaring": squaring(said), "keep": True}
    how["accept_damaged"] = said["accept_damaged"]
    with remote.uploaded(ricalco, photo, **how) as reference_id:
        pack = ricalco.packs.create(
            reference_id, spec, title=photo.stem if title is None else title
        )
    if said["waits"]:
        with bar(quiet=said["as_json"]) as report:
            pack = remote.wait(ricalco, pack, report)
    if said["as_json"]:
        print_json(pack.document)
    else:
        _tell(pack, said["service"].rstrip("/"))


def _tell(pack: Pack, service: str) -> None:
    click.echo(f"Pack {pack.id}: {pack.state}")
    if pack.plan:
        print_lines(summary_lines(pack.plan))
    click.echo(f"State: {service}/v1/packs/{pack.id}")
    click.echo(f"Pack:  {service}/v1/packs/{pack.id}/pack.pdf")
