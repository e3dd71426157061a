"""How the worker makes a pack's files: from its row's spec and stored plan.

This module alone of `worker.jobs` loads imaging and drawing. It plans nothing: the plan that
was stored when the pack was asked for is what a person saw, counted and was charged for, and
planning again could give another one, for example after an update.
"""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from worker.errors import NotFound, ReferenceGone
from worker.jobs.pack_job import MadePack, PackRequest
from worker.make.pack import Progress, make_pack
from worker.spec.json import load_plan, load_spec
from worker.store.disk_room import check_not_empty


def make_from_plan(request: PackRequest) -> MadePack:
    """Make a pack's files in the request's folder; see `PackMaker`.

    Raises:
        ReferenceGone: The reference's files are not there any more.
        StorageUnavailable: They cannot be had now.
        SpecError: Another version wrote the spec.
        PlanNewer: A newer version wrote the plan, and will make the pack.
        PlanOutdated: Another version wrote the plan, or there is none.
        Cancelled: The heartbeat stopped it.
    """

    def progress(step: Progress) -> None:
        request.heartbeat.progress(step.done, step.total, step.step)

    # A newer version may have written a spec that this one cannot read: the plan says so.
    plan = load_plan(request.pack.plan)
    spec = load_spec(request.pack.spec)
    with ExitStack() as open_files:
        files = make_pack(
            _master(request, open_files),
            spec,
            plan,
            title=request.pack.title,
            recipient=request.pack.recipient or "",
            folder=request.folder,
            progress=progress,
            cancelled=request.heartbeat.stopped,
            threads=request.threads,
        )
    return MadePack(number=files.number, total=plan.sheet_count)


def _master(request: PackRequest, open_files: ExitStack) -> Path:
    """The path of the reference's master; valid until `open_files` is closed.

    Raises:
        ReferenceGone: It is not there any more.
        StorageUnavailable: Nothing is there at all: a disk that is not mounted loses no photo.
    """
    try:
        key = f"references/{request.pack.reference_id}/master.zip"
        return open_files.enter_context(request.storage.file(key))
    except NotFound as error:
        check_not_empty(request.storage)
        message = "The reference was deleted before its pack was made: send the photo again."
        raise ReferenceGone(message) from error
