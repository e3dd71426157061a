"""The person who asks: their data, their packs, an export, and deleting themself."""

from __future__ import annotations

from typing import Any

from flask import Response, g

from service.access import sign_in
from service.access.class_limits import keep_days, own_class
from service.classes.documents import class_document
from service.http.answers.json_responses import json_response
from service.http.documented import ATTACHMENT_HEADERS, BINARY, LIST_HEADERS
from service.http.paging import PagedList
from service.http.resources import Resources
from service.me.export import export_of
from service.me.schemas import MeSchema
from service.packs.documents import listed_pack
from service.packs.schemas import PacksQuerySchema, PacksSchema
from service.people.documents import person_document
from service.runtime.context import get_context, owner_id, person
from service.runtime.file_deletion import delete_files
from service.sites.documents import session_document, site_document
from worker.spec.short_codes import read_code, shown_code
from worker.store.ledger import PackRow

blueprint = Resources("me", __name__, url_prefix="/v1/me", description="Whoever asks.")
_PACKS = PagedList[PackRow](name="my-packs", place=lambda row: (row.created_at, row.id))


@blueprint.get("")
@blueprint.response(200, MeSchema)
def get_me() -> Response:
    """Show who asks, what their class allows, and how much of it they have."""
    asker = person()
    document: dict[str, Any] = {
        "person": person_document(asker),
        "keep_days": keep_days(asker.acting_id),
    }
    class_ = own_class()
    if class_ is not None:
        document["class"] = class_document(class_, tutor=False)
        document["usage"] = vars(get_context().ledger.students.usage(asker.id))
    if g.get("site") is not None:
        document["site"] = site_document(g.site)
    if g.get("session") is not None:
        document["session"] = session_document(g.session)
    return sign_in.go_on(json_response(document))


@blueprint.get("/packs")
@blueprint.arguments(PacksQuerySchema, location="query")
@blueprint.response(200, PacksSchema, headers=LIST_HEADERS)
def list_my_packs(query: dict[str, Any]) -> Response:
    """List one's packs, the newest first: another device finds them again.

    `number` finds the one whose number is printed on a sheet, of which another is wanted.
    """
    page = _PACKS.page(query)
    number = None if query["number"] is None else shown_code(read_code(query["number"]))
    found = get_context().ledger.holdings.packs_of(owner_id(), page, number)
    return _PACKS.respond_items(found, page, listed_pack)


@blueprint.get("/export")
@blueprint.response(200, BINARY, content_type="application/zip", headers=ATTACHMENT_HEADERS)
def export_my_data() -> Response:
    """Everything that is kept of whoever asks, as one ZIP."""
    return export_of(person())


@blueprint.delete("")
@blueprint.response(204)
def delete_me() -> Response:
    """Delete whoever asks with all that is theirs, at once; a tutor's classes go too."""
    delete_files(get_context().ledger.people.erase(person().id))
    return sign_in.forget(Response(status=204))
