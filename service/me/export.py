"""The export of a person's data as one ZIP, made while it is sent: ledger, photos, packs."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

from flask import Response

from service.classes.documents import class_document, roster_document
from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.downloads.safe_names import safe_name
from service.http.answers.downloads.zip_stream import Entry, stream_archive
from service.packs.documents import pack_document
from service.people.documents import key_document, person_document
from service.printers.documents import printer_document
from service.references.documents import reference_document
from service.runtime.context import ServiceContext, get_context
from service.sites.documents import site_document
from service.webhooks.documents import webhook_document
from worker.errors import NotFound
from worker.store.ledger import Holding, Person

#: The preview, and the photo as it is stored: bands of JPEG in a ZIP.
_PHOTO_FILES = ("preview.jpg", "master.zip")
_PACK_FILES = ("pack.pdf", "map.png", "picture.jpg", "strokes.npz")


def export_of(person: Person) -> Response:
    """A response with all data of a person; the ledger is read before the first byte is sent."""
    context = get_context()
    holding = context.ledger.holdings.of_person(person.id)
    data = json.dumps(
        _ledger_data(context, person, holding), ensure_ascii=False, indent=2, default=str
    )
    entries = _entries(context, holding, data.encode())
    response = Response(
        stream_archive(entries, made_at=time.time()), content_type="application/zip"
    )
    name = content_disposition(f"{safe_name(person.name, 'ricalco')}.zip")
    response.headers["Content-Disposition"] = name
    return response


def _ledger_data(context: ServiceContext, person: Person, holding: Holding) -> dict[str, Any]:
    """The person's rows of the ledger, as the API's documents."""
    data: dict[str, Any] = {
        "person": person_document(person),
        "external_ids": list(context.ledger.external_ids.of_person(person.id)),
        "keys": [key_document(one) for one in context.ledger.people.keys(person.id)],
        "references": [reference_document(one) for one in holding.references],
        "packs": [pack_document(one) for one in holding.packs],
        "printers": [printer_document(one) for one in context.ledger.printers.own(person.id)],
    }
    if person.role == "student":
        data["class"] = class_document(context.ledger.students.class_of(person.id), tutor=False)
    if person.role == "tutor":
        data["sites"] = [site_document(one) for one in context.ledger.sites.of_tutor(person.id)]
        hooks = context.ledger.webhooks.of(person.id)
        data["webhooks"] = [webhook_document(one) for one in hooks]
        data["classes"] = [
            {
                **class_document(row),
                "roster": roster_document(row.id, _roster(context, row.id))["items"],
            }
            for row in context.ledger.classes.of_tutor(person.id)
        ]
    return data


def _roster(context: ServiceContext, class_id: str) -> Any:
    return context.ledger.students.of_class(class_id)


def _entries(context: ServiceContext, holding: Holding, data: bytes) -> Iterator[Entry]:
    """The files of the archive, each opened when it is sent; deleted ones are left out."""
    yield Entry(name="data.json", content=data)
    for row in holding.references:
        for name in _PHOTO_FILES:
            yield from _file(context, f"{row.files_key}/{name}", f"photos/{row.id}/{name}")
    for pack in holding.packs:
        for name in _PACK_FILES if pack.files_key else ():
            yield from _file(context, f"{pack.files_key}/{name}", f"packs/{pack.id}/{name}")


def _file(context: ServiceContext, key: str, name: str) -> Iterator[Entry]:
    with (
        suppress(NotFound, FileNotFoundError),
        context.storage.file(key) as path,
        path.open("rb") as file,
    ):
        yield Entry(name=name, content=file)
