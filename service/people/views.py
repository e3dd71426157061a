"""People: the first tutor, signing in and out, and a person's keys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from flask import Response, g

from service.access import sign_in as browser_sign_in
from service.http.answers.json_responses import json_response
from service.http.documented import LIST_HEADERS
from service.http.errors import KeyUnknown
from service.http.logs.access_log import add_access_facts
from service.http.paging import ListQuerySchema, PagedList
from service.http.resources import Resources
from service.people.documents import issued_document, key_document, person_document
from service.people.schemas import (
    IssuedSchema,
    KeysSchema,
    LabelSchema,
    NameSchema,
    PersonSchema,
    SignInSchema,
)
from service.runtime.context import get_context, owner_id, person
from worker.errors import LimitReached, TutorExists
from worker.store.ledger import AccessKey

tutors = Resources("tutors", __name__, url_prefix="/v1/tutors", description="Who teaches.")
sign_in_resource = Resources(
    "sign-in", __name__, url_prefix="/v1/sign-in", description="Keys in a page."
)
keys = Resources("keys", __name__, url_prefix="/v1/me/keys", description="One's own keys.")
_KEYS = PagedList[AccessKey](name="keys", place=lambda one: (one.created_at, one.id))


@tutors.post("")
@tutors.refuses(TutorExists)
@tutors.arguments(NameSchema)
@tutors.response(201, IssuedSchema)
def create_tutor(body: dict[str, Any]) -> Response:
    """Make the first tutor, who takes over what is here; from now on keys are asked for.

    Only where nobody but this machine's user can ask, and only while there is none;
    `ricalco tutor` makes more.
    """
    made, issued = get_context().ledger.people.add_tutor(body["name"], "first", only_first=True)
    add_access_facts(about=made.id)
    # The key is shown only here, so this answer must come.
    return browser_sign_in.begin_if_possible(
        json_response(issued_document(made, issued), 201), issued.access.id
    )


@sign_in_resource.post("")
@sign_in_resource.refuses(KeyUnknown)
@sign_in_resource.doc(security=[])
@sign_in_resource.arguments(SignInSchema)
@sign_in_resource.response(200, PersonSchema)
def sign_in(body: dict[str, str]) -> Response:
    """Sign this browser in with a key: it keeps one of its own, in a cookie that no script reads.

    It ends when it is signed out, when it is not used for long, and with the key.
    """
    opened = get_context().ledger.people.opened_by(body["key"])
    if opened is None or opened[1].is_sign_in:
        raise KeyUnknown("This key opens nothing: it is wrong, or was withdrawn.", field="key")
    found, access = opened
    if found.role == "site":
        raise KeyUnknown("This is a course site's key, which is for its server.", field="key")
    add_access_facts(actor=found.id, about=access.id)
    return browser_sign_in.begin(json_response(person_document(found)), access.id)


@sign_in_resource.delete("")
@sign_in_resource.doc(security=[])
@sign_in_resource.response(204)
def sign_out() -> Response:
    """Sign this browser out: what it kept opens nothing; other devices go on as before."""
    ended = browser_sign_in.end_here()
    if ended is not None:
        add_access_facts(actor=ended.owner_id, about=ended.id)
    return browser_sign_in.forget(Response(status=204))


@keys.get("")
@keys.arguments(ListQuerySchema, location="query")
@keys.response(200, KeysSchema, headers=LIST_HEADERS)
def list_keys(query: dict[str, Any]) -> Response:
    """Show the keys that open for whoever asks, and the browsers that are signed in."""
    page = _KEYS.page(query)
    found = get_context().ledger.people.keys(owner_id(), page)
    return _KEYS.respond(found, page, _keys_document)


def _keys_document(rows: Sequence[AccessKey]) -> dict[str, Any]:
    here: AccessKey | None = g.get("access")
    return {
        "items": [key_document(one, here=here is not None and one.id == here.id) for one in rows]
    }


@keys.post("")
@keys.refuses(LimitReached)
@keys.arguments(LabelSchema)
@keys.response(201, IssuedSchema)
def issue_key(body: dict[str, str]) -> Response:
    """Make another key for whoever asks, for another device."""
    issued = get_context().ledger.people.issue_key(owner_id(), body["label"])
    add_access_facts(about=issued.access.id)
    return json_response(issued_document(person(), issued), 201)


@keys.delete("/<key_id:key_id>")
@keys.response(204)
def withdraw_key(key_id: str) -> Response:
    """Withdraw a key, with the browsers that have signed in with it; or sign a browser out."""
    get_context().ledger.people.withdraw_key(owner_id(), key_id)
    return Response(status=204)
