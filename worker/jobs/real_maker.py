"""The real maker: spec, stored plan, pieces, files. Loads all of imaging and drawing.

Nothing is planned here. The plan that was stored when the pack was asked for is what a
person saw, counted and was charged for; planning again could give another one, say after an
update. So the stored one is drawn.
"""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from worker.errors import NotFound, ReferenceGone
from worker.jobs.pack_maker import MadePack, PackRequest
from worker.make.pack import Progress, make_pack
from worker.spec.json import load_plan, load_spec


def make_from_plan(request: PackRequest) -> MadePack:
    """Make a pack's files in the order's folder, as its row's plan says.

    Raises:
        ReferenceGone: The reference's files are not there any more.
        SpecError: Another version wrote the spec.
        PlanOutdated: Another version wrote the plan, or there is none.
        Cancelled: The pulse stopped it.
    """

    def progress(step: Progress) -> None:
        request.heartbeat.progress(step.done, step.total, step.step)

    spec, plan = load_spec(request.pack.spec), load_plan(request.pack.plan)
    with ExitStack() as lent:
        files = make_pack(
            _master(request, lent),
            spec,
            plan,
            title=request.pack.title,
            folder=request.folder,
            progress=progress,
            cancelled=request.heartbeat.stopped,
            threads=request.threads,
        )
    return MadePack(number=files.number, total=plan.sheet_count)


def _master(request: PackRequest, lent: ExitStack) -> Path:
    """The reference's master, as long as `lent` is open.

    Raises:
        ReferenceGone: It is not there any more.
    """
    try:
        key = f"references/{request.pack.reference_id}/master.zip"
        return lent.enter_context(request.storage.file(key))
    except NotFound as error:
        message = "The reference was deleted before its pack was made: send the photo again."
        raise ReferenceGone(message) from error
