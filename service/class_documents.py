"""Rows about people and classes as the documents that callers see."""

from __future__ import annotations

import time
from collections.abc import Iterable
from typing import Any

from flask import request

from service.addresses import base_url, join_url
from service.class_schemas import (
    ClassSchema,
    KeyShownSchema,
    PackOnBoardSchema,
    PersonSchema,
    StudentSchema,
)
from service.desk import desk
from service.documents import moment, pack_document
from worker.ledger import (
    AccessKey,
    ClassRow,
    IssuedKey,
    PackRow,
    Person,
    StudentRow,
    shown_code,
)

_CLASS = ClassSchema()
_PERSON = PersonSchema()
_STUDENT = StudentSchema()
_KEY = KeyShownSchema()
#: No plans: a class of thirty would send them every few seconds.
_IN_SHORT = frozenset(PackOnBoardSchema().fields)


def class_path(class_id: str) -> str:
    """Where a class is found."""
    return f"/v1/classes/{class_id}"


def class_join_url(row: ClassRow) -> str:
    """The address that students open, from anywhere in the room."""
    settings = desk().settings
    base = base_url(request.scheme, request.host, settings.host, settings.port)
    return join_url(base, row.join_code)


def class_document(row: ClassRow, *, tutor: bool = True) -> dict[str, Any]:
    """A class as its tutor, or else as its students see it."""
    path = class_path(row.id)
    document: dict[str, Any] = {
        "id": row.id,
        "name": row.name,
        "closes_at": None if row.closes_at is None else moment(row.closes_at),
        "closed": row.closes_at is not None and row.closes_at <= time.time(),
        "settings": row.settings.to_json(),
        "created_at": moment(row.created_at),
        "links": {"self": path},
    }
    if tutor:
        names = ("students", "board", "batches")
        document["join_code"] = shown_code(row.join_code)
        document["joining_open"] = row.joining_open
        document["join_url"] = class_join_url(row)
        document["links"] |= {name: f"{path}/{name}" for name in names}
        document["links"]["join_picture"] = f"{path}/join.svg"
    return dict(_CLASS.dump(document))


def person_document(person: Person) -> dict[str, Any]:
    """Someone; what does not apply to their role is left out."""
    known = {name: value for name, value in vars(person).items() if value is not None}
    known["created_at"] = moment(person.created_at)
    return dict(_PERSON.dump({**known, "links": {"self": _person_path(person)}}))


def issued_document(person: Person, issued: IssuedKey) -> dict[str, Any]:
    """Someone with their new key."""
    return {"person": person_document(person), "key": issued.key, "key_id": issued.access.id}


def key_document(access: AccessKey, *, here: bool = False) -> dict[str, Any]:
    """A key or a browser, without what it opens with; `here`: it is the one that asks."""
    used, ends = access.last_used_at, access.ends_at
    shown = {
        "kind": "browser" if access.is_sign_in else "key",
        "here": here,
        "created_at": moment(access.created_at),
        "last_used_at": None if used is None else moment(used),
        "ends_at": None if ends is None else moment(ends),
    }
    return dict(_KEY.dump({**vars(access), **shown}))


def student_document(row: StudentRow) -> dict[str, Any]:
    """A line of the roster."""
    path = f"{class_path(row.class_id)}/students/{row.id}"
    withdrawn = row.withdrawn_at is not None
    return dict(_STUDENT.dump({**vars(row), "withdrawn": withdrawn, "links": {"self": path}}))


def pack_in_short(row: PackRow) -> dict[str, Any]:
    """A pack without its plan and spec."""
    shown = {**pack_document(row), "sheets": row.total}
    return {name: shown[name] for name in shown if name in _IN_SHORT}


def roster_document(class_id: str, rows: Iterable[StudentRow]) -> dict[str, Any]:
    """A roster, or part of one."""
    items = [student_document(row) for row in rows]
    return {"items": items, "links": {"self": f"{class_path(class_id)}/students"}}


def _person_path(person: Person) -> str:
    if person.role == "site":
        return f"/v1/sites/{person.id}"
    return "/v1/me"
