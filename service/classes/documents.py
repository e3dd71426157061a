"""Classes and rosters as JSON documents."""

from __future__ import annotations

import time
from collections.abc import Iterable
from typing import Any

from flask import request

from service.classes.schemas import ClassSchema, StudentSchema
from service.http.json_responses import utc_datetime
from service.http.lan_addresses import base_url, join_url
from service.runtime.context import get_context
from worker.store.ledger import ClassRow, StudentRow, shown_code

_CLASS = ClassSchema()
_STUDENT = StudentSchema()


def class_path(class_id: str) -> str:
    """The path of a class."""
    return f"/v1/classes/{class_id}"


def class_join_url(row: ClassRow) -> str:
    """The address at which students join, as other devices on the network reach it."""
    settings = get_context().settings
    base = base_url(request.scheme, request.host, settings.host, settings.port)
    return join_url(base, row.join_code)


def class_document(row: ClassRow, *, tutor: bool = True) -> dict[str, Any]:
    """A class as a document; for students without its code and its links."""
    path = class_path(row.id)
    document: dict[str, Any] = {
        "id": row.id,
        "name": row.name,
        "closes_at": None if row.closes_at is None else utc_datetime(row.closes_at),
        "closed": row.closes_at is not None and row.closes_at <= time.time(),
        "settings": row.settings.to_json(),
        "created_at": utc_datetime(row.created_at),
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


def student_document(row: StudentRow) -> dict[str, Any]:
    """A student of a roster as a document."""
    path = f"{class_path(row.class_id)}/students/{row.id}"
    withdrawn = row.withdrawn_at is not None
    return dict(_STUDENT.dump({**vars(row), "withdrawn": withdrawn, "links": {"self": path}}))


def roster_document(class_id: str, rows: Iterable[StudentRow]) -> dict[str, Any]:
    """A roster, or part of one, as a document."""
    items = [student_document(row) for row in rows]
    return {"items": items, "links": {"self": f"{class_path(class_id)}/students"}}
