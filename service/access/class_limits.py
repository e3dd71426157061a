"""What a class sets for the student who asks: defaults, fixed fields, limits, closing time.

None of it applies to tutors, to course sites in their name, or to the user of a machine
without tutors.
"""

from __future__ import annotations

from typing import Any

from flask import g

from service.access.settled_spec import check_fixed, start_from
from service.http.language import asked_language
from service.runtime.context import get_context, person
from worker.errors import ClassClosed, LimitReached
from worker.spec.json import dump_spec
from worker.spec.spec import Spec
from worker.store.ledger import DAY_S, KEEP_DAYS, LOCAL_OWNER, Bounds, ClassRow


def own_class() -> ClassRow | None:
    """The class of the student who asks, read once a request; None for other roles."""
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

    The language comes from there too, and where a class sets none from `Accept-Language`.

    Args:
        body: What was sent as JSON, not validated yet. Without a spec that is an object it is
            given back as it is: the schema says what is wrong with it.
    """
    if not isinstance(body, dict) or not isinstance(body.get("spec"), dict):
        return body
    class_ = own_class()
    defaults = {} if class_ is None else class_.settings.defaults
    return {**body, "spec": start_from({"language": asked_language(), **defaults}, body["spec"])}


def language_of_print() -> str:
    """In which language things are printed for the person who asks, unless they say another."""
    class_ = own_class()
    defaults = {} if class_ is None else class_.settings.defaults
    return str(defaults.get("language") or asked_language())


def check_spec(spec: Spec) -> None:
    """Check that a student changes only the fields that their tutor lets them change.

    Raises:
        SpecFixed: Names the field.
    """
    class_ = own_class()
    if class_ is not None and class_.settings.may_change is not None:
        check_fixed(dump_spec(spec), class_.settings.defaults, class_.settings.may_change)


def check_open() -> None:
    """Check that the student's class is still open.

    Raises:
        ClassClosed: Its closing time has passed.
    """
    class_ = own_class()
    if (
        class_ is not None
        and class_.closes_at is not None
        and class_.closes_at <= get_context().ledger.time()
    ):
        raise ClassClosed("This class is over: what you have stays until it is deleted.")


def most_photos() -> int | None:
    """How many photos the person who asks may have; None: no limit."""
    class_ = own_class()
    return None if class_ is None else class_.settings.photos


def check_room() -> None:
    """Check that a student may have one more photo, before it is decoded.

    The ledger counts again when it adds the photo.

    Raises:
        LimitReached: They have as many as their class allows.
    """
    most = most_photos()
    if most is not None and get_context().ledger.students.photo_count(person().id) >= most:
        raise LimitReached(f"Your class allows {most} photos, and you have them: delete one first.")


def bounds() -> Bounds:
    """The limits on packs of the person who asks."""
    most, class_ = get_context().settings.max_unfinished, own_class()
    if class_ is None:
        return Bounds(unfinished=most)
    return Bounds(unfinished=most, packs=class_.settings.packs, pages=class_.settings.pages)


def keep_days(owner_id: str) -> int | None:
    """How many days a person's things are kept; None: until they delete them."""
    if owner_id == LOCAL_OWNER:
        return None
    class_ = own_class()
    if class_ is None and owner_id != person().acting_id:
        # A tutor sends a photo, or asks for a pack, for one of their students.
        class_ = get_context().ledger.students.class_of(owner_id)
    return KEEP_DAYS if class_ is None else class_.settings.keep_days


def delete_after(owner_id: str) -> float | None:
    """When a thing that is made now is deleted, in seconds since 1970; None: never."""
    days = keep_days(owner_id)
    return None if days is None else get_context().ledger.time() + days * DAY_S


def recipient(owner_id: str) -> str | None:
    """The name that the sheets of a pack carry: a student's, where their class prints names."""
    owner = person()
    if owner_id != owner.acting_id:
        owner = get_context().ledger.people.person(owner_id)
    if owner.role != "student":
        return None
    return owner.name if _class_of(owner_id).settings.print_names else None


def _class_of(student_id: str) -> ClassRow:
    return own_class() or get_context().ledger.students.class_of(student_id)
