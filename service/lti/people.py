"""Who comes from a platform, and who they become here.

A course of the platform is a class, whose tutor is the one that the operator named for the
platform. It is made when somebody who teaches the course opens it first, unless the operator has
bound it to a class. Who teaches becomes a further tutor, who learns becomes a student; both are
found again by the platform's own id, and have the name that it gives, or none.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from service.http.errors import LaunchRefused
from service.lti import names
from service.lti.id_token import Claims, is_id
from service.runtime.context import get_context
from worker.errors import NotFound
from worker.store.ledger import ContextRow, PlatformRow

#: Characters of a name that are kept (`service.classes.schemas`).
MOST_LETTERS = 80
NAMELESS = {"student": "Student", "tutor": "Tutor"}
COURSE = "Course"
Part = Literal["student", "tutor"]


@dataclass(frozen=True, kw_only=True)
class Guest:
    """Who has come, as what, into which class."""

    person_id: str
    part: Part
    context: ContextRow


def part_of(claims: Claims) -> Part:
    """Whether somebody learns or teaches in the course.

    Who does both is a student, which is less: no role gives more than was meant.

    Raises:
        LaunchRefused: Neither.
    """
    said = claims.get(names.ROLES)
    roles = {one for one in said if isinstance(one, str)} if isinstance(said, list) else set()
    if roles & names.LEARNS:
        return "student"
    if roles & names.TEACHES:
        return "tutor"
    message = "Only who learns or teaches in the course can come here from it."
    raise LaunchRefused(message, reason="role")


def settle_part(claims: Claims, platform: PlatformRow) -> Part:
    """The same; who was a tutor of the course and is none now teaches in its class no more.

    Raises:
        LaunchRefused: Neither.
    """
    try:
        part = part_of(claims)
    except LaunchRefused:
        _teach_no_more(claims, platform)
        raise
    if part != "tutor":
        _teach_no_more(claims, platform)
    return part


def _teach_no_more(claims: Claims, platform: PlatformRow) -> None:
    said = claims.get(names.CONTEXT)
    course = said.get("id") if isinstance(said, dict) else None
    if not is_id(course):
        return
    ledger = get_context().ledger
    place = (platform.id, str(claims[names.DEPLOYMENT]), str(course))
    known = ledger.platforms.context(*place)
    if known is not None:
        ledger.external_ids.take_out_tutor(known.class_id, platform.site_id, str(claims["sub"]))


def receive(claims: Claims, platform: PlatformRow) -> Guest:
    """Find or make the class and the person of a launch.

    Raises:
        LaunchRefused: No tutor has opened the course here yet, or something is missing.
        RosterFull, LimitReached: There is no room for another.
    """
    part = part_of(claims)
    context = _context(claims, platform, part)
    who = (context.class_id, platform.site_id, str(claims["sub"]))
    name = name_of(claims)
    if part == "tutor":
        placed = get_context().ledger.external_ids.put_tutor(*who, name=name or _known_tutor(*who))
        return Guest(person_id=placed.person.id, part=part, context=context)
    return Guest(person_id=put_student(*who, name=name), part=part, context=context)


def put_student(class_id: str, site_id: str, subject: str, *, name: str) -> str:
    """Put a student on the roster as another system's student; without a name, keep theirs.

    Raises:
        RosterFull: There is no room for another.
    """
    external_ids = get_context().ledger.external_ids
    if not name:
        try:
            name = external_ids.student(class_id, site_id, subject).name
        except NotFound:
            name = NAMELESS["student"]
    return external_ids.put_student(class_id, site_id, subject, name).person.id


def _known_tutor(class_id: str, site_id: str, subject: str) -> str:
    try:
        return get_context().ledger.external_ids.tutor(class_id, site_id, subject).name
    except NotFound:
        return NAMELESS["tutor"]


def _context(claims: Claims, platform: PlatformRow, part: Part) -> ContextRow:
    said = claims.get(names.CONTEXT)
    course: dict[str, Any] = said if isinstance(said, dict) else {}
    if not is_id(course.get("id")):
        raise LaunchRefused("The launch does not say from which course it comes.")
    place = (platform.id, str(claims[names.DEPLOYMENT]), str(course["id"]))
    platforms = get_context().ledger.platforms
    known = platforms.context(*place)
    if known is not None:
        return known
    if part != "tutor":
        message = "Your tutor has to open this in the course first. Then try again."
        raise LaunchRefused(message, reason="tutor-first")
    name = _tidy(course.get("title")) or _tidy(course.get("label")) or COURSE
    return platforms.open_context(platform, *place[1:], name)


def name_of(claims: Claims) -> str:
    """The name as the platform gives it (OpenID Connect Core, 5.1); "": it gives none."""
    whole = _tidy(claims.get("name"))
    return whole or _tidy(f"{_tidy(claims.get('given_name'))} {_tidy(claims.get('family_name'))}")


def _tidy(value: Any) -> str:
    shown = " ".join(value.split()) if isinstance(value, str) else ""
    return "".join(one for one in shown if one.isprintable())[:MOST_LETTERS].strip()
