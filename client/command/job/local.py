"""A whole job in this process, without a service or a ledger; nothing is kept.

Intake, layout and making are those that the service and its workers run, in a temporary folder.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from client.command.job.corner_options import SquareUpOptions
from client.command.job.specs import with_faces
from client.command.progress import Report
from ricalco_client.files import atomic_file

if TYPE_CHECKING:
    # Pillow and numpy load only when there is a photo to work on.
    from worker.picture.preview import Preview
    from worker.reference.intake import IntakeResult
    from worker.settings import Settings
    from worker.spec.plan import Plan
    from worker.spec.spec import Spec


@dataclass(frozen=True, kw_only=True)
class PlannedJob:
    """A job that is ready to make: its photo is taken in and its sheets are planned.

    Attributes:
        folder: Temporary folder that holds the master, `master.zip`.
        spec: The job.
        plan: The sheets.
        settings: Limits and threads.
    """

    folder: Path
    spec: Spec
    plan: Plan
    settings: Settings


@contextmanager
def planned_job(
    photo: Path,
    document: dict[str, Any],
    square_up: SquareUpOptions | None = None,
    *,
    accept_damaged: bool = False,
    protect_faces: bool = False,
) -> Iterator[PlannedJob]:
    """Take a photo in, square it up if wanted, and plan its sheets.

    With `protect_faces`, what a first plan offers to protect of faces is taken.

    The temporary folder is removed when the block ends.

    Raises:
        RicalcoError: The photo or the spec cannot be used, or a setting is wrong.
    """
    from worker.layout.planning import plan_sheets
    from worker.reference.decode import Limits
    from worker.reference.intake import take_in
    from worker.settings import Settings
    from worker.spec.json import dump_plan, load_spec

    settings = Settings.from_env()
    spec = load_spec(document)
    limits = Limits(max_pixels=settings.max_pixels, max_bytes=settings.max_upload_bytes)
    with tempfile.TemporaryDirectory(prefix="ricalco-") as name:
        folder = Path(name)
        with photo.open("rb") as file:
            # The process works for one person only, so decoding needs no process of its own.
            taken = take_in(
                file, folder, limits, threads=settings.threads, accept_damaged=accept_damaged
            )
        if square_up is not None:
            folder, taken = _squared(folder, taken, square_up, settings)
        plan = plan_sheets(spec, taken.study, max_sheets=settings.max_sheets)
        if protect_faces:
            spec = load_spec(with_faces(document, dump_plan(plan)))
            plan = plan_sheets(spec, taken.study, max_sheets=settings.max_sheets)
        yield PlannedJob(folder=folder, spec=spec, plan=plan, settings=settings)


def _squared(
    folder: Path, taken: IntakeResult, options: SquareUpOptions, settings: Settings
) -> tuple[Path, IntakeResult]:
    """Square up the picture between the corners, into a subfolder."""
    from worker.reference.decode import Limits
    from worker.reference.master import Master
    from worker.reference.square_up.square_up import square_up

    below = folder / "squared"
    below.mkdir()
    with Master.open(folder / "master.zip") as master:
        squared = square_up(
            master,
            options.corners,
            below,
            format_=taken.format,
            proportion=options.proportion,
            limits=Limits(max_pixels=settings.max_pixels),
            threads=settings.threads,
        )
    return below, squared


def plan_document(job: PlannedJob) -> dict[str, Any]:
    """The plan as JSON, as the API writes it."""
    from worker.spec.json import dump_plan

    return dump_plan(job.plan)


def grid_pages(job: PlannedJob, title: str) -> bytes:
    """The pages to draw by eye from, as PDF."""
    from worker.make.grid import make_grid_pages

    path = job.folder / "grid.pdf"
    threads = job.settings.threads
    make_grid_pages(
        job.folder / "master.zip", job.spec, job.plan, title=title, path=path, threads=threads
    )
    return path.read_bytes()


def make(job: PlannedJob, title: str, report: Report, *, full_size: bool = False) -> Path:
    """Make the pack; returns the folder that holds pack.pdf and map.png.

    With `full_size`, full-size.pdf is made too.

    Raises:
        RicalcoError: With the reason.
    """
    from worker.make.full_size import make_full_size
    from worker.make.pack import make_pack

    folder = job.folder / "pack"
    folder.mkdir()
    make_pack(
        job.folder / "master.zip",
        job.spec,
        job.plan,
        title=title,
        folder=folder,
        progress=lambda step: report(step.done, step.total, step.step),
        threads=job.settings.threads,
    )
    if full_size:
        make_full_size(
            job.folder / "master.zip",
            job.spec,
            job.plan,
            title=title,
            path_pdf=folder / "full-size.pdf",
            threads=job.settings.threads,
        )
    return folder


def preview(job: PlannedJob, width_px: int) -> Preview:
    """The picture as it would be printed, reduced to `width_px` pixels.

    Raises:
        RicalcoError: With the reason.
    """
    from worker.picture.preview import preview as shown

    master = job.folder / "master.zip"
    return shown(master, job.spec, job.plan, width_px, threads=job.settings.threads)


def copy_file(made: Path, target: Path) -> None:
    """Copy a finished file to `target`, which appears whole or not at all."""
    with made.open("rb") as source, atomic_file(target) as copy:
        shutil.copyfileobj(source, copy, 1024 * 1024)
