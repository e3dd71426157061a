"""The real maker: spec, stored plan, pieces, files. Loads all of imaging and drawing.

Nothing is planned here. The plan that was stored when the pack was asked for is what a
person saw, counted and was charged for; planning again could give another one, say after an
update. So the stored one is drawn.
"""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from worker.errors import NotFound, ReferenceGone
from worker.jobs.pack_maker import Order, Product
from worker.make.pack import Progress, make_pack
from worker.spec.json import load_plan, load_spec


def make_real(order: Order) -> Product:
    """Make a pack's files in the order's folder, as its row's plan says.

    Raises:
        ReferenceGone: The reference's files are not there any more.
        SpecError: Another version wrote the spec.
        PlanOutdated: Another version wrote the plan, or there is none.
        Cancelled: The pulse stopped it.
    """

    def progress(step: Progress) -> None:
        order.pulse.progress(step.done, step.total, step.step)

    spec, plan = load_spec(order.pack.spec), load_plan(order.pack.plan)
    with ExitStack() as lent:
        files = make_pack(
            _master(order, lent),
            spec,
            plan,
            title=order.pack.title,
            folder=order.folder,
            progress=progress,
            cancelled=order.pulse.stopped,
            threads=order.threads,
        )
    return Product(number=files.number, total=plan.sheet_count)


def _master(order: Order, lent: ExitStack) -> Path:
    """The reference's master, as long as `lent` is open.

    Raises:
        ReferenceGone: It is not there any more.
    """
    try:
        key = f"references/{order.pack.reference_id}/master.zip"
        return lent.enter_context(order.storage.file(key))
    except NotFound as error:
        message = "The reference was deleted before its pack was made: send the photo again."
        raise ReferenceGone(message) from error
