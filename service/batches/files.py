"""Downloads of a batch: the archive, and the print runs; both are made while they are sent.

Nothing is sent before all of its packs are ready: nobody would notice that two students are
missing from a stack of paper. A student who is deleted during the download is left out of the
rest of an archive; a pack that has begun is sent to its end. A print run has a length, so there
it breaks off, and the next request gets another one, with another entity tag.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path

from flask import Response

from service.batches.documents import sheet_format_of, state_of, table_of
from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.downloads.files import MadeWhileSent, send_made
from service.http.answers.downloads.safe_names import UniqueNames, safe_name
from service.http.answers.downloads.zip_stream import Entry, stream_archive
from service.references.files import check_files
from service.runtime.context import ServiceContext, get_context, owner_id
from worker.errors import FilesMissing, NotFound, NotReady
from worker.jobs.upkeep.missing_files import note_missing
from worker.make.print_run import StudentPack, open_student_pack, print_run
from worker.pages.class_papers.recipient import Recipient
from worker.pages.stroke_file import NAME as STROKES
from worker.spec.json import load_plan, load_spec
from worker.store.disk_room import check_not_empty
from worker.store.ledger import FINAL_STATES, Batch, BatchItem
from worker.words.catalogue import words_for


def send_archive(batch: Batch, group: str) -> Response:
    """Send every finished pack with its cover, and the table of the items, as one ZIP.

    Raises:
        NotReady: Packs are still being made, or none was.
        FilesMissing, ReferenceGone: Something would be missing from it.
    """
    ready = _ready(batch, batch.items)
    name = f"{safe_name(batch.row.title or group, 'packs')}.zip"
    context, asker_id = get_context(), owner_id()
    return _streamed(_archive(context, asker_id, batch, ready, group), "application/zip", name)


def check_print_run(batch: Batch, sheet_format: str) -> list[BatchItem]:
    """The items of a print run, once all of it can be sent.

    Raises:
        NotFound: The batch has no pack on this sheet format.
        NotReady: Packs on it are still being made, or none was.
        FilesMissing, ReferenceGone: Something would be missing from it.
    """
    items = tuple(item for item in batch.items if sheet_format_of(item) == sheet_format)
    if not items:
        raise NotFound("This batch has no sheets of this format.")
    return _ready(batch, items)


def send_print_run(batch: Batch, sheet_format: str, *, covers: bool) -> Response:
    """Send all packs of one sheet format as one PDF, with the errors of `check_print_run`."""
    ready = check_print_run(batch, sheet_format)
    group = get_context().ledger.classes.get(batch.row.class_id, owner_id()).name
    title = " · ".join(filter(None, [group, batch.row.title]))
    name = f"{safe_name(title, 'packs')} {sheet_format}.pdf"
    context = get_context()
    with ExitStack() as resources:
        folder = resources.enter_context(context.storage.workspace())
        packs = _existing(context, owner_id(), ready, group)
        run = print_run(packs, title=title, folder=folder, covers=covers)
        content = MadeWhileSent(run.length, run.blocks, resources.pop_all())
    return send_made(content, content_type="application/pdf", name=name, tag=run.digest[:32])


def _ready(batch: Batch, items: tuple[BatchItem, ...]) -> list[BatchItem]:
    waiting = sum(item.pack is not None and item.pack.state not in FINAL_STATES for item in items)
    if waiting:
        raise NotReady(f"{waiting} of {len(items)} packs are still being made: come again then.")
    ready = [item for item in items if state_of(item) == "ready"]
    if not ready:
        raise NotReady(f"No pack of this batch was made: it is {len(batch.items)} without files.")
    _check_files(ready)
    return ready


def _check_files(items: list[BatchItem]) -> None:
    """Check before anything is sent that no file is missing.

    Raises:
        FilesMissing: The files of some packs are gone; those packs are marked as failed.
        ReferenceGone: A photo is gone, and covers are drawn from it.
        StorageUnavailable: All files are gone: the disk is.
    """
    context, asker_id = get_context(), owner_id()
    gone = [item for item in items if _is_missing(context, asker_id, item)]
    if gone:
        check_not_empty(context.storage)
        names = ", ".join(item.student_name or "the tutor" for item in gone)
        raise FilesMissing(f"{len(gone)} packs have no files any more: make them again ({names}).")
    for item in items:
        check_files(item.row.reference_id) if item.row.reference_id else None


def _is_missing(context: ServiceContext, asker_id: str, item: BatchItem) -> bool:
    """Whether a pack's files are gone; a pack that was just deleted counts as not missing."""
    assert item.pack is not None  # noqa: S101 -- Only ready items get here.
    try:
        row = context.ledger.pack(item.pack.id, asker_id)
    except NotFound:
        return False
    return note_missing(context.ledger, context.storage, row.id, row.files_key)


def _streamed(blocks: Iterator[bytes], content_type: str, name: str) -> Response:
    response = Response(blocks, content_type=content_type, direct_passthrough=True)
    response.headers["Content-Disposition"] = content_disposition(name)
    return response


def _archive(
    context: ServiceContext, asker_id: str, batch: Batch, items: list[BatchItem], group: str
) -> Iterator[bytes]:
    with context.storage.workspace() as folder:
        entries = _entries(context, asker_id, batch, items, (group, folder))
        yield from stream_archive(entries, made_at=batch.row.created_at)


def _entries(
    context: ServiceContext,
    asker_id: str,
    batch: Batch,
    items: list[BatchItem],
    where: tuple[str, Path],
) -> Iterator[Entry]:
    """For each item the pack and its cover, then the table."""
    group, folder = where
    names, cover = UniqueNames(), folder / "cover.pdf"
    for handed in _existing(context, asker_id, items, group):
        recipient = handed.recipient
        stem = safe_name(
            f"{recipient.place:02} {recipient.name}, {handed.title}".strip(" ,"), "pack"
        )
        with open_student_pack(handed, cover=cover) as pack:
            if pack is not None:
                yield Entry(name=names.take(f"{stem}, cover", ".pdf"), content=cover.read_bytes())
                yield Entry(name=names.take(stem, ".pdf"), content=pack)
    with suppress(NotFound):
        # Read again, so that it does not name anybody who was deleted meanwhile.
        left = context.ledger.batches.get(batch.row.id, asker_id)
        yield Entry(name=names.take("table", ".csv"), content=b"".join(table_of(left)))


def _existing(
    context: ServiceContext, asker_id: str, items: list[BatchItem], group: str
) -> Iterator[StudentPack]:
    """The packs to hand out, one by one, without those that were deleted meanwhile.

    Places are counted within these items.
    """
    for place, item in enumerate(items, 1):
        recipient = Recipient(
            name=item.student_name or "",
            group=group,
            place=place,
            of=len(items),
            note=item.row.note,
        )
        handed = _handed(context, asker_id, item, recipient)
        if handed is not None:
            yield handed


def _handed(
    context: ServiceContext, asker_id: str, item: BatchItem, recipient: Recipient
) -> StudentPack | None:
    """A pack with what its cover needs; None where it was deleted meanwhile."""
    assert item.pack is not None  # noqa: S101 -- Only ready items get here.
    try:
        row = context.ledger.pack(item.pack.id, asker_id)
    except NotFound:
        return None
    needed = (f"{row.files_key}/pack.pdf", f"references/{row.reference_id}/master.zip")
    if not all(context.storage.holds(key) for key in needed):
        return None
    spec = load_spec(row.spec)
    name = recipient.name or words_for(spec.language)("papers.tutor")
    return StudentPack(
        recipient=replace(recipient, name=name),
        spec=spec,
        plan=load_plan(row.plan),
        title=row.title,
        number=row.number or "",
        pack_pdf=partial(context.storage.file, f"{row.files_key}/pack.pdf"),
        master=partial(context.storage.file, f"references/{row.reference_id}/master.zip"),
        strokes=partial(context.storage.file, f"{row.files_key}/{STROKES}"),
    )
