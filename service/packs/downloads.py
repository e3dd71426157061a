"""A pack's files: the whole, its map, and single sheets made again for a reprint.

A sheet of lines takes seconds to make again: when a screen asked for every sheet of a pack, no
other request got a connection for 8 to 20 s. So screens cut their cards from one small picture,
and sheets that are made again have a bound of their own. So has the picture at full size, which
takes as long as the pack did and is wanted of few packs.
"""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path
from typing import Literal

from flask import Response

from service.http.answers.downloads import files
from service.http.answers.downloads.handing_over import hand_over
from service.http.answers.downloads.safe_names import safe_name
from service.http.resources import Resources
from service.references.files import check_files
from service.runtime.context import ServiceContext, get_context, owner_id
from worker.errors import FilesMissing, NotFound, NotReady, PlanOutdated, ReferenceGone
from worker.jobs.upkeep.missing_files import note_missing
from worker.make.full_size import make_full_size
from worker.make.pack import make_sheet
from worker.picture.thumbnail import write_thumbnail
from worker.spec.json import load_plan, load_spec
from worker.spec.sheet_labels import address_label, read_label, sheet_label
from worker.store.disk_room import check_not_empty
from worker.store.ledger import FILES_MISSING, PackRow

blueprint = Resources(
    "downloads", __name__, url_prefix="/v1/packs", description="What was made, to print."
)
#: A part of the entity tag; raised when sheets are drawn in another way than before.
DRAWN_AS = "2"
#: The same of thumbnails.
SHRUNK_AS = "1"


@blueprint.get("/<pack_id:pack_id>/pack.pdf")
@blueprint.refuses(NotReady, FilesMissing)
@blueprint.sends_file("application/pdf")
def get_pack_pdf(pack_id: str) -> Response:
    """Map, guide and sheets; print at actual size."""
    return _stored(pack_id, "pack.pdf", "")


@blueprint.get("/<pack_id:pack_id>/map.png")
@blueprint.refuses(NotReady, FilesMissing)
@blueprint.sends_file("image/png")
def get_map_png(pack_id: str) -> Response:
    """The assembly map, for a screen."""
    return _stored(pack_id, "map.png", " map")


@blueprint.get("/<pack_id:pack_id>/picture.jpg")
@blueprint.refuses(NotReady, FilesMissing)
@blueprint.sends_file("image/jpeg")
def get_picture_jpg(pack_id: str) -> Response:
    """The whole picture as printed, in small: with the plan, a screen shows any sheet of it."""
    return _stored(pack_id, "picture.jpg", " picture")


@blueprint.get("/<pack_id:pack_id>/thumbnail.jpg")
@blueprint.refuses(NotReady, FilesMissing)
@blueprint.sends_file("image/jpeg")
def get_thumbnail_jpg(pack_id: str) -> Response:
    """The whole picture as printed, in very small, for a list of many."""
    row, key = _ready(pack_id)
    tag = files.etag(key, "thumbnail.jpg", SHRUNK_AS)
    if files.fresh_in_cache(tag):
        return files.not_modified(tag)
    context = get_context()
    with ExitStack() as resources:
        picture = resources.enter_context(context.storage.file(f"{key}/picture.jpg"))
        small = resources.enter_context(context.storage.workspace()) / "thumbnail.jpg"
        write_thumbnail(picture, small)
        return files.send(
            small,
            resources.pop_all(),
            name=f"{_stem(row)} thumbnail.jpg",
            tag=tag,
            digests=context.digests,
        )


@blueprint.get("/<pack_id:pack_id>/sheets/<label:label>.pdf")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone, PlanOutdated)
@blueprint.sends_file("application/pdf")
def get_sheet_pdf(pack_id: str, label: str) -> Response:
    """One sheet alone, for a reprint; print at actual size."""
    return _sheet(pack_id, label, "pdf")


@blueprint.get("/<pack_id:pack_id>/sheets/<label:label>.png")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone, PlanOutdated)
@blueprint.sends_file("image/png")
def get_sheet_png(pack_id: str, label: str) -> Response:
    """One sheet alone, as a picture."""
    return _sheet(pack_id, label, "png")


@blueprint.get("/<pack_id:pack_id>/full-size.pdf")
@blueprint.refuses(NotReady, FilesMissing, ReferenceGone, PlanOutdated)
@blueprint.sends_file("application/pdf")
def get_full_size_pdf(pack_id: str) -> Response:
    """The whole picture on one page, for a copy shop's plotter; print at actual size.

    It has a narrow border to cut off, and no seams. No printer's correction is applied, since
    a plotter is another printer. Pages beyond 14,400 points have a `UserUnit` (PDF 1.6).
    """
    return _full_size(pack_id)


def send_pack_file(pack_id: str, file: str) -> Response:
    """A file of a pack by its path below it, such as `pack.pdf` or `sheets/2-3.png`.

    Raises:
        NotFound: The caller has no such pack, or it has no such sheet.
        FilesMissing, NotReady: It has no files.
    """
    folder, _, name = file.rpartition("/")
    stem, _, kind = name.partition(".")
    if folder:
        return _sheet(pack_id, _label(stem), "png" if kind == "png" else "pdf")
    if stem == "full-size":
        return _full_size(pack_id)
    return _stored(pack_id, name, "" if stem == "pack" else f" {stem}")


def check_pack_file(pack_id: str, file: str) -> None:
    """Check that a pack has this file, with the errors of `send_pack_file`."""
    row, _ = _ready(pack_id)
    folder, _, name = file.rpartition("/")
    if folder:
        _check_label(row, _label(name.partition(".")[0]))


def _ready(pack_id: str) -> tuple[PackRow, str]:
    """The pack and the key of its files.

    Raises:
        NotFound: The caller has no such pack.
        FilesMissing: It was made, and its files are gone.
        StorageUnavailable: All files are gone: the disk is.
        NotReady: It is not made yet, or failed.
    """
    context = get_context()
    row = context.ledger.pack(pack_id, owner_id())
    if row.error_code == FilesMissing.code:
        raise FilesMissing(row.error_detail or "")
    if row.state != "ready" or row.files_key is None:
        raise NotReady(f"The pack is {row.state}; it has files once it is ready.")
    if note_missing(context.ledger, context.storage, row.id, row.files_key):
        check_not_empty(context.storage)
        raise FilesMissing(FILES_MISSING)
    return row, row.files_key


def _stored(pack_id: str, name: str, what: str) -> Response:
    """A file of a finished pack; each attempt has its own files, so their key is the tag."""
    row, key = _ready(pack_id)
    context, resources = get_context(), ExitStack()
    shown = f"{_stem(row)}{what}.{name.rpartition('.')[2]}"
    sender = context.settings.downloads
    if (handed_over := hand_over(context.storage, sender, f"{key}/{name}", shown)) is not None:
        return handed_over
    path = resources.enter_context(context.storage.file(f"{key}/{name}"))
    return files.send(
        path, resources, name=shown, tag=files.etag(key, name), digests=context.digests
    )


def _sheet(pack_id: str, label: str, kind: Literal["pdf", "png"]) -> Response:
    row, key = _ready(pack_id)
    _check_label(row, label)
    tag = files.etag(key, label, kind, DRAWN_AS)
    if files.fresh_in_cache(tag):
        return files.not_modified(tag)
    check_files(row.reference_id)
    with get_context().sheet_limit.slot(), ExitStack() as resources:
        path = resources.enter_context(get_context().storage.workspace()) / f"sheet.{kind}"
        _make(get_context(), row, label, path.with_suffix(""), kind)
        name = f"{_stem(row)} {address_label(*read_label(label))}.{kind}"
        return files.send(
            path, resources.pop_all(), name=name, tag=tag, digests=get_context().digests
        )


def _full_size(pack_id: str) -> Response:
    row, key = _ready(pack_id)
    tag = files.etag(key, "full-size", DRAWN_AS)
    if files.fresh_in_cache(tag):
        return files.not_modified(tag)
    check_files(row.reference_id)
    context = get_context()
    with context.full_size_limit.slot(), ExitStack() as resources:
        path = resources.enter_context(context.storage.workspace()) / "full-size.pdf"
        with context.storage.file(f"references/{row.reference_id}/master.zip") as master:
            make_full_size(
                master,
                load_spec(row.spec),
                load_plan(row.plan),
                title=row.title,
                path_pdf=path,
                number=row.number,
                threads=context.settings.threads,
            )
        name = f"{_stem(row)} full size.pdf"
        return files.send(path, resources.pop_all(), name=name, tag=tag, digests=context.digests)


def _label(address: str) -> str:
    """The label that an address gives."""
    return sheet_label(*read_label(address))


def _check_label(row: PackRow, label: str) -> None:
    if row.plan is None or all(piece["label"] != label for piece in row.plan["pieces"]):
        raise NotFound(f"The pack has no sheet {label}.")


def _make(context: ServiceContext, row: PackRow, label: str, stem: Path, kind: str) -> None:
    with context.storage.file(f"references/{row.reference_id}/master.zip") as master:
        make_sheet(
            master,
            load_spec(row.spec),
            load_plan(row.plan),
            label,
            title=row.title,
            path_pdf=stem.with_suffix(".pdf"),
            path_png=stem.with_suffix(".png") if kind == "png" else None,
            number=row.number,
            recipient=row.recipient or "",
        )


def _stem(row: PackRow) -> str:
    return safe_name(row.title, f"pack {row.number or row.id[-8:]}")
