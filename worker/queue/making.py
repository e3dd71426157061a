"""The real maker: spec, plan, pieces, files. Loads all of imaging and drawing."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

from worker.contract import dump_plan, load_spec
from worker.errors import NotFound, ReferenceGone
from worker.imaging import load_study
from worker.layout import plan_sheets
from worker.making import Progress, make_pack
from worker.queue.maker import Order, Product

#: How many sheets a pack may have was judged when it was asked for.
ANY_SHEETS = 1_000_000


def make_real(order: Order) -> Product:
    """Make `pack.pdf` and `map.png` in the order's folder.

    Raises:
        ReferenceGone: The reference's files are not there any more.
        SpecError: The spec does not fit this reference.
        Cancelled: The pulse stopped it.
    """

    def progress(step: Progress) -> None:
        order.pulse.progress(step.done, step.total, step.step)

    spec, title = load_spec(order.pack.spec), order.pack.title
    with ExitStack() as stack:
        master_path, study_path = _reference_files(order, stack)
        plan = plan_sheets(spec, load_study(study_path), max_sheets=ANY_SHEETS)
        files = make_pack(
            master_path,
            spec,
            plan,
            title=title,
            folder=order.folder,
            progress=progress,
            cancelled=order.pulse.stopped,
            threads=order.threads,
        )
    return Product(number=files.number, plan=dump_plan(plan), total=plan.sheet_count)


def _reference_files(order: Order, stack: ExitStack) -> tuple[Path, Path]:
    """Paths of master and study, as long as `stack` is open.

    Raises:
        ReferenceGone: They are not there any more.
    """
    key = f"references/{order.pack.reference_id}"
    try:
        master = stack.enter_context(order.storage.file(f"{key}/master.zip"))
        study = stack.enter_context(order.storage.file(f"{key}/study.npz"))
    except NotFound as error:
        message = "The reference was deleted before its pack was made: send the photo again."
        raise ReferenceGone(message) from error
    return master, study
