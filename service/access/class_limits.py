"""What a class allows the student who asks: defaults, settled fields, limits, its end.

Tutors, and course sites in their name, are bound by none of it; neither is whoever has
the machine to themselves.
"""

from __future__ import annotations

import time
from typing import Any

from flask import g

from service.access.settled_spec import check_fixed, start_from
from service.runtime.context import get_context, person
from worker.errors import ClassClosed, LimitReached
from worker.spec.json import dump_spec
from worker.spec.spec import Spec
from worker.store.ledger import DAY_S, KEEP_DAYS, LOCAL_OWNER, Bounds, ClassRow


def own_class() -> ClassRow | None:
    """The class of the student who asks; read once a request."""
    student = person()
    if student.role != "student":
        return None
    if "own_class" not in g:
        # Without a class nothing is found, so that nobody is a student without limits.
        g.own_class = get_context().ledger.classes.get(student.class_id or "", student.id)
    found: ClassRow = g.own_class
    return found


def with_class_defaults(body: Any) -> Any:
    """A request's body; what its spec leaves out comes from the class's defaults.

    Args:
        body: What was sent as JSON, not validated yet. Without a spec that is an object it is
            given back as it is: the schema says what is wrong with it.
    """
    if not isinstance(body, dict) or not isinstance(body.get("spec"), dict):
        return body
    class_ = own_class()
    if class_ is None:
        return body
    return {**body, "spec": start_from(class_.settings.defaults, body["spec"])}


def check_spec(spec: Spec) -> None:
    """See that a student changes only what their tutor leaves to them.

    Raises:
        SpecFixed: With the field.
    """
    class_ = own_class()
    if class_ is not None and class_.settings.may_change is not None:
        check_fixed(dump_spec(spec), class_.settings.defaults, class_.settings.may_change)


def check_open() -> None:
    """See that a student's class is not over.

    Raises:
        ClassClosed: It is.
    """
    class_ = own_class()
    if class_ is not None and class_.closes_at is not None and class_.closes_at <= time.time():
        raise ClassClosed("This class is over: what you have stays until it is deleted.")


def most_photos() -> int | None:
    """How many photos whoever asks may have."""
    class_ = own_class()
    return None if class_ is None else class_.settings.photos


def check_room() -> None:
    """See early that a student may have one more photo, before it is taken in.

    Raises:
        LimitReached: They may not.
    """
    most = most_photos()
    if most is not None and get_context().ledger.students.photo_count(person().id) >= most:
        raise LimitReached(f"Your class allows {most} photos, and you have them: delete one first.")


def bounds() -> Bounds:
    """How much whoever asks may have made."""
    most, class_ = get_context().settings.max_unfinished, own_class()
    if class_ is None:
        return Bounds(unfinished=most)
    return Bounds(unfinished=most, packs=class_.settings.packs, pages=class_.settings.pages)


def keep_days(owner_id: str) -> int | None:
    """How long what someone has is kept; None: until they delete it."""
    if owner_id == LOCAL_OWNER:
        return None
    class_ = own_class()
    if class_ is None and owner_id != person().acting_id:
        # A tutor sends or asks for a student of theirs.
        class_ = get_context().ledger.students.class_of(owner_id)
    return KEEP_DAYS if class_ is None else class_.settings.keep_days


def delete_after(owner_id: str) -> float | None:
    """When what someone gets now is deleted."""
    days = keep_days(owner_id)
    return None if days is None else time.time() + days * DAY_S
