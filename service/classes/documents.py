"""Classes and rosters as JSON documents."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from flask import request

from service.access.scopes import site_may
from service.classes.schemas import ClassSchema, ClassTutorSchema, StudentSchema
from service.http.answers.json_responses import utc_datetime
from service.http.requests.lan_addresses import base_url, join_url
from service.references.documents import reference_path
from service.runtime.context import get_context
from worker.spec.short_codes import shown_code
from worker.store.ledger import ClassRow, StudentRow, TutorRow

_CLASS = ClassSchema()
_STUDENT = StudentSchema()
_TUTOR = ClassTutorSchema()


def class_path(class_id: str) -> str:
    """The path of a class."""
    return f"/v1/classes/{class_id}"


def class_join_url(row: ClassRow) -> str:
    """The address at which students join, as other devices on the network reach it."""
    settings = get_context().settings
    base = base_url(request.scheme, request.host, settings.host, settings.port)
    return join_url(base, shown_code(row.join_code))


def class_document(row: ClassRow, *, tutor: bool = True) -> dict[str, Any]:
    """A class as a document; for students without its code and its links."""
    path = class_path(row.id)
    document: dict[str, Any] = {
        "id": row.id,
        "name": row.name,
        "closes_at": None if row.closes_at is None else utc_datetime(row.closes_at),
        "closed": row.closes_at is not None and row.closes_at <= get_context().ledger.time(),
        "settings": row.settings.to_json(),
        "picture": _picture(row),
        "created_at": utc_datetime(row.created_at),
        "links": {"self": path},
    }
    if tutor:
        names = ("students", "tutors", "board", "batches")
        now = get_context().ledger.time()
        until = row.joining_until if row.joinable(now) else None
        document["joining_open"] = row.joinable(now)
        document["joining_until"] = None if until is None else utc_datetime(until)
        document["links"] |= {name: f"{path}/{name}" for name in names}
        # With the code, a course site could join in a student's place, with a key that stays.
        if site_may("change-class"):
            document["join_code"] = shown_code(row.join_code)
            document["join_url"] = class_join_url(row)
            document["links"]["join_picture"] = f"{path}/join.svg"
    return dict(_CLASS.dump(document))


def _picture(row: ClassRow) -> dict[str, Any] | None:
    """The class's picture, where it has one."""
    if row.picture_id is None or row.picture is None:
        return None
    preview = f"{reference_path(row.picture_id)}/preview.jpg"
    return {**row.picture, "reference_id": row.picture_id, "preview": preview}


def student_document(row: StudentRow, external_id: str | None = None) -> dict[str, Any]:
    """A student of a roster as a document, with the id by which whoever asks knows them."""
    path = f"{class_path(row.class_id)}/students/{row.id}"
    withdrawn = row.withdrawn_at is not None
    shown = {**vars(row), "withdrawn": withdrawn, "links": {"self": path}}
    if external_id is not None:
        shown["external_id"] = external_id
    return dict(_STUDENT.dump(shown))


def tutor_document(class_id: str, row: TutorRow, external_id: str | None = None) -> dict[str, Any]:
    """A tutor of a class as a document, with the id by which whoever asks knows them."""
    path = f"{class_path(class_id)}/tutors/{row.id}"
    shown = {**vars(row), "links": {"self": path}}
    if external_id is not None:
        shown["external_id"] = external_id
    return dict(_TUTOR.dump(shown))


def roster_document(
    class_id: str, rows: Iterable[StudentRow], known: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """A roster, or part of one, as a document; `known`: external ids by the student's id."""
    items = [student_document(row, (known or {}).get(row.id)) for row in rows]
    return {"items": items, "links": {"self": f"{class_path(class_id)}/students"}}
