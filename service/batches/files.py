"""What is fetched of a batch: the archive, and the print runs; both are made while sent.

Nothing is sent before everything that will be in it is ready: a stack of paper from which
two students are missing is found out in the morning. Who is deleted while it is sent is
left out of the rest of it; a pack that has begun is sent to its end.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, suppress
from functools import partial
from pathlib import Path

from flask import Response

from service.batches.documents import sheet_format_of, state_of, table_of
from service.http.downloads.content_disposition import content_disposition
from service.http.downloads.safe_names import UniqueNames, safe_name
from service.http.downloads.zip_stream import Entry, stream_archive
from service.references.files import check_files
from service.runtime.context import ServiceContext, get_context, owner_id
from worker.errors import FilesMissing, NotFound, NotReady
from worker.jobs.upkeep.missing_files import note_missing
from worker.make.print_run import StudentPack, open_student_pack, print_run
from worker.pages.class_papers.recipient import Recipient
from worker.pages.stroke_file import NAME as STROKES
from worker.spec.json import load_plan, load_spec
from worker.store.ledger import FINAL_STATES, Batch, BatchItem


def send_archive(batch: Batch, group: str) -> Response:
    """Every pack that was made, with its cover, and the table of who has what.

    Raises:
        NotReady: Packs are still being made, or none was.
        FilesMissing, ReferenceGone: Something would be missing from it.
    """
    ready = _ready(batch, batch.items)
    name = f"{safe_name(batch.row.title or group, 'packs')}.zip"
    context, asks = get_context(), owner_id()
    return _streamed(_archive(context, asks, batch, ready, group), "application/zip", name)


def send_print_run(batch: Batch, group: str, sheet_format: str, *, covers: bool) -> Response:
    """All packs on one kind of paper.

    Raises:
        NotFound: The batch has none on it.
        NotReady: Packs on it are still being made, or none was.
        FilesMissing, ReferenceGone: Something would be missing from it.
    """
    items = tuple(item for item in batch.items if sheet_format_of(item) == sheet_format)
    if not items:
        raise NotFound("This batch has no sheets of this format.")
    ready = _ready(batch, items)
    title = " · ".join(filter(None, [group, batch.row.title]))
    name = f"{safe_name(title, 'packs')} {sheet_format}.pdf"
    context, asks = get_context(), owner_id()
    return _streamed(_run(context, asks, ready, group, (title, covers)), "application/pdf", name)


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
    """See, before anything is sent, that nothing will be missing from the stack.

    Raises:
        FilesMissing: The files of some packs are gone; from now on those say so themselves.
        ReferenceGone: A photo is, and covers are drawn from it.
    """
    context, asks = get_context(), owner_id()
    gone = [item for item in items if _is_missing(context, asks, item)]
    if gone:
        names = ", ".join(item.student_name or "the tutor" for item in gone)
        raise FilesMissing(f"{len(gone)} packs have no files any more: make them again ({names}).")
    for item in items:
        check_files(item.row.reference_id) if item.row.reference_id else None


def _is_missing(context: ServiceContext, asks: str, item: BatchItem) -> bool:
    """Whether a pack's files are gone; one that was deleted a moment ago is not missed."""
    assert item.pack is not None  # noqa: S101 -- Only ready lines come here.
    try:
        row = context.ledger.pack(item.pack.id, asks)
    except NotFound:
        return False
    return note_missing(context.ledger, context.storage, row)


def _streamed(blocks: Iterator[bytes], content_type: str, name: str) -> Response:
    response = Response(blocks, content_type=content_type, direct_passthrough=True)
    response.headers["Content-Disposition"] = content_disposition(name)
    return response


def _run(
    context: ServiceContext, asks: str, items: list[BatchItem], group: str, wanted: tuple[str, bool]
) -> Iterator[bytes]:
    title, covers = wanted
    with context.storage.workspace() as folder:
        handed = _there(context, asks, items, group)
        yield from print_run(handed, title=title, folder=folder, covers=covers)


def _archive(
    context: ServiceContext, asks: str, batch: Batch, items: list[BatchItem], group: str
) -> Iterator[bytes]:
    with context.storage.workspace() as folder:
        entries = _entries(context, asks, batch, items, (group, folder))
        yield from stream_archive(entries, made_at=batch.row.created_at)


def _entries(
    context: ServiceContext,
    asks: str,
    batch: Batch,
    items: list[BatchItem],
    where: tuple[str, Path],
) -> Iterator[Entry]:
    """For each student the pack and its cover, then the table."""
    group, folder = where
    names, cover = UniqueNames(), folder / "cover.pdf"
    for handed in _there(context, asks, items, group):
        recipient = handed.recipient
        stem = safe_name(
            f"{recipient.place:02} {recipient.name}, {handed.title}".strip(" ,"), "pack"
        )
        with open_student_pack(handed, cover=cover) as pack:
            if pack is not None:
                yield Entry(name=names.take(f"{stem}, cover", ".pdf"), content=cover.read_bytes())
                yield Entry(name=names.take(stem, ".pdf"), content=pack)
    with suppress(NotFound):
        # Asked for anew: it names nobody who has been deleted since.
        left = context.ledger.batches.get(batch.row.id, asks)
        yield Entry(name=names.take("table", ".csv"), content=b"".join(table_of(left)))


def _there(
    context: ServiceContext, asks: str, items: list[BatchItem], group: str
) -> Iterator[StudentPack]:
    """What is handed out, one by one, and not what somebody has deleted since.

    Places are counted within what lies on the table.
    """
    for place, item in enumerate(items, 1):
        recipient = Recipient(
            name=item.student_name or "Tutor",
            group=group,
            place=place,
            of=len(items),
            note=item.row.note,
        )
        handed = _handed(context, asks, item, recipient)
        if handed is not None:
            yield handed


def _handed(
    context: ServiceContext, asks: str, item: BatchItem, recipient: Recipient
) -> StudentPack | None:
    """What a pack is handed out with; None where it was deleted a moment ago."""
    assert item.pack is not None  # noqa: S101 -- Only ready lines come here.
    try:
        row = context.ledger.pack(item.pack.id, asks)
        with ExitStack() as looks:
            looks.enter_context(context.storage.file(f"{row.files_key}/pack.pdf"))
            looks.enter_context(context.storage.file(f"references/{row.reference_id}/master.zip"))
    except NotFound:
        return None
    return StudentPack(
        recipient=recipient,
        spec=load_spec(row.spec),
        plan=load_plan(row.plan),
        title=row.title,
        number=row.number or "",
        pack_pdf=partial(context.storage.file, f"{row.files_key}/pack.pdf"),
        master=partial(context.storage.file, f"references/{row.reference_id}/master.zip"),
        strokes=partial(context.storage.file, f"{row.files_key}/{STROKES}"),
    )
