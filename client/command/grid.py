"""`ricalco grid`: the picture under its grid and the ticks for the support, without sheets."""

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


@click.command("grid")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("grid.pdf"),
    show_default=True,
    help="The two pages, as PDF.",
)
@click.option("--title", default=None, help="Printed on both pages; by default the photo's name.")
@click.option("--force", is_flag=True, help="Replace a file that is no PDF.")
def grid(photo: Path, out: Path, title: str | None, *, force: bool, **options: Any) -> None:
    """Draw PHOTO under its grid on one page, and where to tick the support on another."""
    if options["grid"] is None:
        raise click.UsageError("Say how large the squares are: --grid 5cm.")
    check_output(out, "PDF", photo=photo, force=force)
    spec = build_spec(options)
    intake = {
        "accept_damaged": options["accept_damaged"],
        "protect_faces": wants_faces(options),
    }
    with local.planned_job(photo, spec, square_up_options(options), **intake) as job:
        data = local.grid_pages(job, photo.stem if title is None else title)
    with atomic_file(out) as file:
        file.write(data)
    click.echo(f"{out}: 2 pages, {len(data) // 1000} kB")
