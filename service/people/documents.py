"""People and their keys as JSON documents."""

from __future__ import annotations

from typing import Any

from service.http.answers.json_responses import utc_datetime
from service.people.schemas import KeyShownSchema, PersonSchema
from worker.store.ledger import AccessKey, IssuedKey, Person

_PERSON = PersonSchema()


_KEY = KeyShownSchema()


def person_document(person: Person) -> dict[str, Any]:
    """A person as a document, without the fields that their role does not have."""
    known = {name: value for name, value in vars(person).items() if value is not None}
    known["created_at"] = utc_datetime(person.created_at)
    return dict(_PERSON.dump({**known, "links": {"self": _person_path(person)}}))


def issued_document(person: Person, issued: IssuedKey) -> dict[str, Any]:
    """A person with their new key, as a document."""
    return {"person": person_document(person), "key": issued.key, "key_id": issued.access.id}


def key_document(access: AccessKey, *, here: bool = False) -> dict[str, Any]:
    """A key or sign-in as a document, without its secret; `here`: this request uses it."""
    used, ends = access.last_used_at, access.ends_at
    shown = {
        "kind": "browser" if access.is_sign_in else "key",
        "here": here,
        "created_at": utc_datetime(access.created_at),
        "last_used_at": None if used is None else utc_datetime(used),
        "ends_at": None if ends is None else utc_datetime(ends),
    }
    return dict(_KEY.dump({**vars(access), **shown}))


def _person_path(person: Person) -> str:
    if person.role == "site":
        return f"/v1/sites/{person.id}"
    return "/v1/me"
