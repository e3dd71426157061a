"""Puts who learns in a course on the class's roster, when its tutor asks for it (NRPS 2.0).

Students are put as by `PUT …/by-external-id/…`, under the id that they launch with. Nobody is taken
off: photos and packs are theirs, and a tutor decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from service.lti import names
from service.lti.id_token import Claims, is_id
from service.lti.people import Guest, name_of, put_student
from service.runtime.context import get_context
from service.serving.dispatcher import slot_released
from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher
from worker.lti.members import Member, members
from worker.lti.service_hosts import is_service_of
from worker.store.ledger import ContextRow, PlatformRow

MOST_LETTERS = 2000
#: NRPS 2.0, 2.2: roles may also be written by their names alone.
_LEARNS = names.LEARNS | {"Learner"}
_SERVICE_VERSION = "2.0"


@dataclass(frozen=True, kw_only=True)
class Put:
    """How many students a list had, and how many of them are on the roster anew."""

    listed: int
    added: int


def note_members(claims: Claims, platform: PlatformRow, guest: Guest) -> bool:
    """Note where a course's members are listed; whether they can be asked for."""
    said = claims.get(names.MEMBERS)
    service: dict[str, Any] = said if isinstance(said, dict) else {}
    url, versions = service.get("context_memberships_url"), service.get("service_versions")
    if guest.part != "tutor" or not isinstance(url, str) or len(url) > MOST_LETTERS:
        return False
    if isinstance(versions, list) and _SERVICE_VERSION not in versions:
        return False
    try:
        _fetcher().check(url)
    except PlatformUnreachable:
        return False
    if not is_service_of(platform, url):
        return False
    if guest.context.members_url != url:
        get_context().ledger.platforms.note_members(guest.context, url)
    return True


def put_members(platform: PlatformRow, context: ContextRow) -> Put:
    """Put the students of a course on the roster of its class.

    Raises:
        PlatformUnreachable: The platform does not list them.
        RosterFull: There is no room for all of them.
    """
    ledger = get_context().ledger
    if context.members_url is None:
        raise PlatformUnreachable("The platform has not said where it lists who is in the course.")
    if not is_service_of(platform, context.members_url):
        raise PlatformUnreachable("The course's members are listed at a host of somebody else.")
    before = len(ledger.students.of_class(context.class_id))
    with slot_released():
        found = members(ledger, _fetcher(), platform, context.members_url)
    students = [one for one in found if _is_student(one)]
    for one in students:
        put_student(context.class_id, platform.site_id, str(one["user_id"]), name=name_of(one))
    return Put(listed=len(students), added=len(ledger.students.of_class(context.class_id)) - before)


def _is_student(member: Member) -> bool:
    """Whether a member learns here now (2.2: without a status, a member is active).

    A role together with teaching counts as in a launch: who does both is a student.
    """
    said = member.get("roles")
    roles = {one for one in said if isinstance(one, str)} if isinstance(said, list) else set()
    active = member.get("status", "Active") == "Active"
    return active and is_id(member.get("user_id")) and bool(roles & _LEARNS)


def _fetcher() -> Fetcher:
    return Fetcher(get_context().settings.lti_private_hosts)
