"""`ricalco make`: a photo in, a pack to print out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from client.api import Ricalco
from client.command.job import local, remote
from client.command.job.corner_options import squaring
from client.command.job.options import spec_options
from client.command.job.outputs import check_output
from client.command.job.report import (
    advice_lines,
    check_lines,
    print_json,
    print_lines,
    summary_lines,
    turn_hint,
)
from client.command.job.specs import build_spec
from client.command.progress import bar

#: What making tells: the plan, as JSON.
Plan = dict[str, Any]

PHOTO = click.Path(exists=True, dir_okay=False, path_type=Path)
OUTPUT = click.Path(path_type=Path)


@click.command("make")
@click.argument("photo", type=PHOTO)
@spec_options
@click.option("--title", help="Printed on map and sheets (default: the photo's name).")
@click.option("--out", type=OUTPUT, help="The pack (default: PHOTO-pack.pdf in this folder).")
@click.option("--map", "map_path", type=OUTPUT, help="Write the assembly map as PNG too.")
@click.option("--force", is_flag=True, help="Replace a file of another kind.")
@click.option("--service", metavar="URL", help="Let this service make it, not this machine.")
@click.option("--keep", is_flag=True, help="With --service: leave photo and pack there.")
@click.option("--json", "as_json", is_flag=True, help="Tell the result as JSON.")
def make(photo: Path, title: str | None, **said: Any) -> None:
    """Make a pack of PHOTO to print.

    It holds map, guide and sheets that join to exactly the picture's size.

    The pack appears under its name whole or not at all; missing folders are made. An
    earlier PDF of that name is replaced; any other file is left alone unless --force is
    given, and the photo itself always.
    """
    out = said["out"] or Path(f"{photo.stem}-pack.pdf")
    outputs = {"pack.pdf": out, "map.png": said["map_path"]}
    for path, kind in ((out, "PDF"), (said["map_path"], "PNG")):
        if path:
            check_output(path, kind, photo=photo, force=said["force"])
    title = photo.stem if title is None else title
    wanted = {name: path for name, path in outputs.items() if path}
    run = _over_http if said["service"] else _here
    plan = run(photo, title, wanted, said)
    if said["as_json"]:
        _print_json(plan, wanted)
    else:
        _print_lines(plan, wanted)


def _here(photo: Path, title: str, wanted: dict[str, Path], said: dict[str, Any]) -> Plan:
    spec, square, as_it_is = build_spec(said), squaring(said), said["accept_damaged"]
    with local.planned(photo, spec, square, accept_damaged=as_it_is) as desk:
        with bar(quiet=said["as_json"]) as report:
            made = local.make(desk, title, report)
        for name, path in wanted.items():
            local.deliver(made / name, path)
        return local.plan_document(desk)


def _over_http(photo: Path, title: str, wanted: dict[str, Path], said: dict[str, Any]) -> Plan:
    ricalco = Ricalco(said["service"])
    spec = build_spec(said)
    how: dict[str, Any] = {"squaring": squaring(said), "keep": said["keep"]}
    how["accept_damaged"] = said["accept_damaged"]
    with remote.uploaded(ricalco, photo, **how) as reference_id:
        pack = ricalco.packs.create(reference_id, spec, title=title)
        with bar(quiet=said["as_json"]) as report:
            pack = remote.wait(ricalco, pack, report)
        ricalco.packs.download_pack(pack.id, wanted["pack.pdf"])
        if "map.png" in wanted:
            ricalco.packs.download_map(pack.id, wanted["map.png"])
        return pack.plan or ricalco.plan(reference_id, spec)


def _print_json(plan: Plan, wanted: dict[str, Path]) -> None:
    map_path = wanted.get("map.png")
    paths = {"pack": str(wanted["pack.pdf"]), "map": str(map_path) if map_path else None}
    print_json({**paths, "plan": plan})


def _print_lines(plan: Plan, wanted: dict[str, Path]) -> None:
    print_lines(summary_lines(plan))
    print_lines(check_lines(plan))
    print_lines(advice_lines(plan))
    print_lines(turn_hint(plan))
    print_lines(f"Written: {path}" for path in wanted.values())
    click.echo("Print one sheet at actual size first, and measure its scale bar.")
