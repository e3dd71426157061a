"""Notes, at a student's launch, to which column of the gradebook a pack belongs (AGS 2.0, 3.1)."""

from __future__ import annotations

from typing import Any

from service.lti import names
from service.lti.id_token import Claims
from service.lti.login import home_of
from service.lti.people import Guest
from service.runtime.context import get_context
from worker.errors import PlatformUnreachable
from worker.lti.fetch import Fetcher
from worker.lti.grades import SCORE_SCOPE
from worker.lti.service_hosts import is_service_of
from worker.store.ledger import PlatformRow

#: Characters of an address (our choice).
MOST_LETTERS = 2000


def note_grades(claims: Claims, platform: PlatformRow, guest: Guest) -> None:
    """Note the column, where the platform has one for this activity and lets us write it."""
    said = claims.get(names.GRADES)
    endpoint: dict[str, Any] = said if isinstance(said, dict) else {}
    line_item, scopes = endpoint.get("lineitem"), endpoint.get("scope")
    writable = isinstance(scopes, list) and SCORE_SCOPE in scopes
    if guest.part != "student" or not writable or not _is_address(line_item, platform):
        return
    get_context().ledger.results.note(
        platform.id,
        guest.person_id,
        line_item=str(line_item),
        subject=str(claims["sub"]),
        home=home_of(claims),
    )


def _is_address(value: Any, platform: PlatformRow) -> bool:
    """Whether this can be asked later, in the platform's name; a launch does not fail for it."""
    if not isinstance(value, str) or len(value) > MOST_LETTERS:
        return False
    try:
        Fetcher(get_context().settings.lti_private_hosts).check(value)
    except PlatformUnreachable:
        return False
    return is_service_of(platform, value)
