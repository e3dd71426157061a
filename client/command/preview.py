"""`ricalco preview`: the picture as it would be printed, as a PNG for the screen."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.job import local
from client.command.job.corner_options import square_up_options
from client.command.job.options import spec_options
from client.command.job.outputs import check_output
from client.command.job.specs import build_spec, wants_faces
from client.command.make import PHOTO
from ricalco_client.files import atomic_file

_DEFAULT_WIDTH_PX = 1000


@click.command("preview")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("preview.png"),
    show_default=True,
    help="The picture, as PNG.",
)
@click.option(
    "--width",
    type=click.IntRange(200, 1600),
    default=_DEFAULT_WIDTH_PX,
    show_default=True,
    metavar="PIXELS",
    help="How wide the picture is.",
)
@click.option("--force", is_flag=True, help="Replace a file that is no PNG.")
def preview(photo: Path, out: Path, width: int, *, force: bool, **options: Any) -> None:
    """Show PHOTO in the tones or lines that it would be printed in, on this machine."""
    check_output(out, "PNG", photo=photo, force=force)
    spec = build_spec(options)
    intake = {
        "accept_damaged": options["accept_damaged"],
        "protect_faces": wants_faces(options),
    }
    with local.planned_job(photo, spec, square_up_options(options), **intake) as job:
        shown = local.preview(job, width)
    with atomic_file(out) as file:
        file.write(shown.png)
    click.echo(f"{out}: {len(shown.png) // 1000} kB")
    if shown.thresholds is not None:
        parts = ", ".join(f"{each:.2f}" for each in shown.thresholds)
        click.echo(f"Tones part at {parts} (0 is black, 1 is white).")
