"""Makes a reference from an upload, or from a part of another one: files first, then the row.

So a row never names missing files; the sweeper deletes files without a row.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

from service.access.class_limits import delete_after, most_photos
from service.runtime.context import ServiceContext
from service.runtime.limits.concurrency import ConcurrencyLimit
from service.serving.dispatcher import slot_released
from worker.errors import OutcomeUnknown, RicalcoError
from worker.reference.decode import Limits
from worker.reference.intake import IntakeResult
from worker.reference.master import Master
from worker.reference.square_up.square_up import square_up
from worker.store.disk_room import check_room as check_disk
from worker.store.ledger import IdempotentAnswer, ReferenceRow
from worker.store.metrics.counts import folder_bytes
from worker.store.metrics.families import INTAKE_SECONDS, STORED_BYTES

_LOG = logging.getLogger(__name__)


def take_photo_in(
    context: ServiceContext,
    photo: BinaryIO,
    owner: str,
    keep_answer: IdempotentAnswer | None,
    *,
    accept_damaged: bool = False,
) -> ReferenceRow:
    """Make a reference from an upload, which a process of its own decodes.

    Raises:
        PhotoError: The photo cannot be used.
        LimitReached: The owner has as many photos as their class allows.
    """

    def make(folder: Path) -> IntakeResult:
        # The other process works; this thread only waits.
        with slot_released(), context.counts.timed(INTAKE_SECONDS):
            return context.intake.take_in(photo, folder, accept_damaged=accept_damaged)

    facts = {"owner_id": owner, "delete_after": delete_after(owner)}
    return _publish_and_add(context, context.intake_limit, make, keep_answer, **facts)


def square_reference_up(
    context: ServiceContext,
    origin: ReferenceRow,
    body: dict[str, Any],
    keep_answer: IdempotentAnswer | None,
) -> ReferenceRow:
    """Make a reference of the picture within these corners of another reference.

    It has the same owner and is not kept longer. It is made in this process, since it is read
    from the master: the service wrote that file itself, and reads it tile by tile.

    Raises:
        CornersUnusable: The corners enclose no picture.
        NotFound: The origin was deleted meanwhile.
        LimitReached: The owner has as many photos as their class allows.
    """

    def make(folder: Path) -> IntakeResult:
        with (
            context.storage.file(f"{origin.files_key}/master.zip") as path,
            Master.open(path) as master,
        ):
            return square_up(
                master,
                body["corners"],
                folder,
                format_=origin.format,
                proportion=body["proportion"],
                limits=_limits(context),
                threads=context.settings.threads,
            )

    return _publish_and_add(
        context,
        context.drawing_limit,
        make,
        keep_answer,
        owner_id=origin.owner_id,
        delete_after=origin.delete_after,
        made_from=origin.id,
    )


def _limits(context: ServiceContext) -> Limits:
    return Limits(
        max_pixels=context.settings.max_pixels, max_bytes=context.settings.max_upload_bytes
    )


def _publish_and_add(
    context: ServiceContext,
    limit: ConcurrencyLimit,
    make: Callable[[Path], IntakeResult],
    keep_answer: IdempotentAnswer | None,
    **facts: Any,
) -> ReferenceRow:
    """Publish the files that `make` writes into a folder, and add the row."""
    check_disk(context.ledger, context.storage)
    with limit.slot(), context.storage.workspace() as folder:
        taken = make(folder)
        row = ReferenceRow(
            width_px=taken.width_px,
            height_px=taken.height_px,
            format=taken.format,
            sha256=taken.sha256,
            resolved_px=taken.study.resolved_px,
            **facts,
        )
        stored_bytes = folder_bytes(folder)
        context.storage.publish(folder, row.files_key)
    context.counts.add(STORED_BYTES, "photo", by=stored_bytes)
    try:
        row = context.ledger.add_reference(row, keep_answer, most=most_photos())
    except OutcomeUnknown:
        # The row may exist and name these files. If not, the sweeper deletes them.
        raise
    except RicalcoError:
        _discard(context, row)
        raise
    context.study_cache.put(row.id, taken.study)
    return row


def _discard(context: ServiceContext, row: ReferenceRow) -> None:
    """Delete files that no row names; where that fails now, the sweeper does it later."""
    try:
        context.storage.delete(row.files_key)
    except (RicalcoError, OSError) as error:
        _LOG.warning("%s is left for the sweeper: %s", row.files_key, error)
