"""The whole job in this process: no service, no ledger, nothing kept.

It is the same intake, layout and making that the service and its workers run; only the
folder is a temporary one.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from client.command.job.corner_options import Squaring
from client.command.progress import Report
from client.files import whole_file

if TYPE_CHECKING:
    # Pillow and numpy are worth loading only once there is a photo to work on.
    from worker.picture.preview import Preview
    from worker.reference.intake import IntakeResult
    from worker.settings import Settings
    from worker.spec.plan import Plan
    from worker.spec.spec import Spec


@dataclass(frozen=True, kw_only=True)
class Desk:
    """A photo taken in and planned, with the folder that its master lies in."""

    folder: Path
    spec: Spec
    plan: Plan
    settings: Settings


@contextmanager
def planned(
    photo: Path,
    document: dict[str, Any],
    squaring: Squaring | None = None,
    *,
    accept_damaged: bool = False,
) -> Iterator[Desk]:
    """Take a photo in, square it up if asked, and plan it; the folder is gone at the end.

    Raises:
        RicalcoError: The photo or the spec cannot be used, or a setting is wrong.
    """
    from worker.layout.planning import plan_sheets
    from worker.reference.decode import Limits
    from worker.reference.intake import take_in
    from worker.settings import Settings
    from worker.spec.json import load_spec

    settings = Settings.from_env()
    spec = load_spec(document)
    limits = Limits(max_pixels=settings.max_pixels, max_bytes=settings.max_upload_bytes)
    with tempfile.TemporaryDirectory(prefix="ricalco-") as name:
        folder = Path(name)
        with photo.open("rb") as file:
            # Of one's own photos and in a process that makes one pack: none other would suffer.
            taken = take_in(
                file, folder, limits, threads=settings.threads, accept_damaged=accept_damaged
            )
        if squaring is not None:
            folder, taken = _squared(folder, taken, squaring, settings)
        yield Desk(
            folder=folder,
            spec=spec,
            plan=plan_sheets(spec, taken.study, max_sheets=settings.max_sheets),
            settings=settings,
        )


def _squared(
    folder: Path, taken: IntakeResult, squaring: Squaring, settings: Settings
) -> tuple[Path, IntakeResult]:
    """The picture between the corners, in a folder below."""
    from worker.reference.decode import Limits
    from worker.reference.master import Master
    from worker.reference.square_up.square_up import square_up

    below = folder / "squared"
    below.mkdir()
    with Master.open(folder / "master.zip") as master:
        squared = square_up(
            master,
            squaring.corners,
            below,
            format_=taken.format,
            proportion=squaring.proportion,
            limits=Limits(max_pixels=settings.max_pixels),
            threads=settings.threads,
        )
    return below, squared


def plan_document(desk: Desk) -> dict[str, Any]:
    """The plan as the contract's JSON."""
    from worker.spec.json import dump_plan

    return dump_plan(desk.plan)


def make(desk: Desk, title: str, report: Report) -> Path:
    """Make the pack; the folder that holds pack.pdf and map.png.

    Raises:
        RicalcoError: With the reason.
    """
    from worker.make.pack import make_pack

    folder = desk.folder / "pack"
    folder.mkdir()
    make_pack(
        desk.folder / "master.zip",
        desk.spec,
        desk.plan,
        title=title,
        folder=folder,
        progress=lambda step: report(step.done, step.total, step.step),
        threads=desk.settings.threads,
    )
    return folder


def preview(desk: Desk, width_px: int) -> Preview:
    """The picture as it would be printed, in small.

    Raises:
        RicalcoError: With the reason.
    """
    from worker.picture.preview import preview as shown

    master = desk.folder / "master.zip"
    return shown(master, desk.spec, desk.plan, width_px, threads=desk.settings.threads)


def deliver(made: Path, target: Path) -> None:
    """Copy a finished file to where it was asked for, whole or not at all."""
    with made.open("rb") as source, whole_file(target) as copy:
        shutil.copyfileobj(source, copy, 1024 * 1024)
