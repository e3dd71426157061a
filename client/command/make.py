"""`ricalco make`: make a pack of a photo, on this machine or at a service."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.command.job import local, remote
from client.command.job.corner_options import square_up_options
from client.command.job.options import spec_options
from client.command.job.outputs import check_output
from client.command.job.report import (
    advice_lines,
    check_lines,
    orientation_hint,
    print_json,
    print_lines,
    summary_lines,
)
from client.command.job.specs import build_spec, wants_faces
from client.command.progress import progress_bar
from ricalco_client.api import Ricalco

#: A plan as JSON.
Plan = dict[str, Any]

PHOTO = click.Path(exists=True, dir_okay=False, path_type=Path)
OUTPUT = click.Path(path_type=Path)


@click.command("make")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option("--title", help="Printed on map and sheets (default: the photo's name).")
@click.option("--out", type=OUTPUT, help="The pack (default: PHOTO-pack.pdf in this folder).")
@click.option("--map", "map_path", type=OUTPUT, help="Write the assembly map as PNG too.")
@click.option(
    "--full-size",
    "full_size_path",
    type=OUTPUT,
    help="Write the whole picture on one page too, for a copy shop's plotter.",
)
@click.option("--force", is_flag=True, help="Replace a file of another kind.")
@click.option("--service", metavar="URL", help="Let this service make it, not this machine.")
@click.option("--keep", is_flag=True, help="With --service: leave photo and pack there.")
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
def make(photo: Path, title: str | None, **options: Any) -> None:
    """Make a pack of PHOTO to print.

    It holds map, guide and sheets that join to exactly the picture's size.

    The pack appears under its name whole or not at all; missing folders are made. An
    earlier PDF of that name is replaced; any other file is left alone unless --force is
    given, and the photo itself always.
    """
    out = options["out"] or Path(f"{photo.stem}-pack.pdf")
    named = {"map.png": options["map_path"], "full-size.pdf": options["full_size_path"]}
    outputs = {"pack.pdf": out, **{name: path for name, path in named.items() if path}}
    for name, path in outputs.items():
        kind = name.rpartition(".")[2].upper()
        check_output(path, kind, photo=photo, force=options["force"])
    title = photo.stem if title is None else title
    run = _make_remotely if options["service"] else _make_locally
    plan = run(photo, title, outputs, options)
    if options["as_json"]:
        _print_json(plan, outputs)
    else:
        _print_lines(plan, outputs)


def _make_locally(
    photo: Path, title: str, outputs: dict[str, Path], options: dict[str, Any]
) -> Plan:
    spec, square_up = build_spec(options), square_up_options(options)
    intake = {
        "accept_damaged": options["accept_damaged"],
        "protect_faces": wants_faces(options),
    }
    with local.planned_job(photo, spec, square_up, **intake) as job:
        with progress_bar(quiet=options["as_json"]) as report:
            made = local.make(job, title, report, full_size="full-size.pdf" in outputs)
        for name, path in outputs.items():
            local.copy_file(made / name, path)
        return local.plan_document(job)


def _make_remotely(
    photo: Path, title: str, outputs: dict[str, Path], options: dict[str, Any]
) -> Plan:
    ricalco = Ricalco(options["service"])
    spec = build_spec(options)
    intake: dict[str, Any] = {"square_up": square_up_options(options), "keep": options["keep"]}
    intake["accept_damaged"] = options["accept_damaged"]
    with remote.uploaded(ricalco, photo, **intake) as reference_id:
        if wants_faces(options):
            spec = remote.with_faces(ricalco, reference_id, spec)
        pack = ricalco.packs.create(reference_id, spec, title=title)
        with progress_bar(quiet=options["as_json"]) as report:
            pack = remote.wait(ricalco, pack, report)
        ricalco.packs.download_pack(pack.id, outputs["pack.pdf"])
        if "map.png" in outputs:
            ricalco.packs.download_map(pack.id, outputs["map.png"])
        if "full-size.pdf" in outputs:
            ricalco.packs.download_full_size(pack.id, outputs["full-size.pdf"])
        return pack.plan or ricalco.plan(reference_id, spec)


def _print_json(plan: Plan, outputs: dict[str, Path]) -> None:
    names = {"pack": "pack.pdf", "map": "map.png", "full_size": "full-size.pdf"}
    paths = {key: str(outputs[name]) if name in outputs else None for key, name in names.items()}
    print_json({**paths, "plan": plan})


def _print_lines(plan: Plan, outputs: dict[str, Path]) -> None:
    print_lines(summary_lines(plan))
    print_lines(check_lines(plan))
    print_lines(advice_lines(plan))
    print_lines(orientation_hint(plan))
    print_lines(f"Written: {path}" for path in outputs.values())
