"""Who asks: a person or a course site by a key, a student by a session's token, or this machine.

As long as there is no tutor, the user of this machine needs no key, where nobody else can
reach the service: on a loopback address, behind no proxy, under no other host name. That
holds again after the last tutor has deleted themself, and with them all data. Elsewhere
everybody needs a key. It is sent as `Authorization: Bearer` or, since pictures and
downloads in a page cannot send that header, as a cookie that no script can read and no
other site can send.

A page of another origin gets in with the token of a session that belongs to that origin, and
with nothing else: neither with a key, which is for servers, nor with a cookie.
"""

from __future__ import annotations

from flask import g, request

from service.access.cookies import SIGN_IN, read_cookie
from service.http.errors import KeyMissing, KeyUnknown, OriginRefused, SessionEnded, SiteExpired
from service.http.requests.host_guard import (
    SAFE_METHODS,
    came_through_a_proxy,
    is_own_machine,
    same_origin,
)
from service.runtime.context import get_context
from worker.store.ledger import LOCAL_OWNER, SESSION_PREFIX, Person, SessionRow, SiteRow

#: The scheme before the key in the header (RFC 6750).
_BEARER = "bearer "


def check_asking_page() -> None:
    """Check that a page of another origin changes nothing, except by a session's token.

    Raises:
        OriginRefused: It sends something else.
    """
    key, from_cookie = given_key()
    in_session = key is not None and not from_cookie and key.startswith(SESSION_PREFIX)
    if in_session or asking_origin() is None:
        return
    if key is not None or request.method not in SAFE_METHODS:
        raise OriginRefused("Pages of other origins ask with the token of a session only.")


def asking_origin() -> str | None:
    """The origin of the page that sends this request; None: our own page, or no browser.

    Browsers name it in every request whose answer another origin's page may read (Fetch, 3.2).
    """
    origin = request.headers.get("Origin")
    own = origin is None or same_origin(origin, request.headers.get("Host", ""))
    # Browsers send "null" with a link that was followed; no page can read that answer.
    return None if own or origin == "null" else origin


def who_asks() -> Person:
    """The person that the key belongs to, or the user of a machine without tutors.

    Raises:
        KeyUnknown: The key belongs to nobody, or was withdrawn.
        KeyMissing: The request has none and needs one.
        SiteExpired: It is the key of a course site whose time is over, or of a tutor who came
            from a learning platform that is such a site.
        SessionEnded, OriginRefused: It is a session's token, and that has ended, or another
            origin's page sends it.
    """
    people = get_context().ledger.people
    key, from_cookie = given_key()
    if key is not None and not from_cookie and key.startswith(SESSION_PREFIX):
        return _in_session(key)
    opened = people.opened_by(key) if key is not None else None
    # The key of a browser's sign-in is valid in its cookie only, not in the header.
    if opened is not None and (from_cookie or not opened[1].is_sign_in):
        g.by_cookie = from_cookie
        person, g.access = opened
        if person.role == "site":
            g.site = live_site(person)
        elif g.access.via_site is not None:
            _find_live(g.access.via_site)
        return person
    if is_local() and (key is None or from_cookie):
        return Person(id=LOCAL_OWNER, role="local", name="Local")
    if key is not None:
        raise KeyUnknown("This key opens nothing: it is wrong, or was withdrawn.")
    raise KeyMissing("Ask with your key: Authorization: Bearer rck_…, or join a class.")


def live_site(person: Person) -> SiteRow:
    """The course site that this is, or raise SiteExpired."""
    return _find_live(person.id)


def _find_live(site_id: str) -> SiteRow:
    site = get_context().ledger.sites.find(site_id)
    if site.expires_at <= get_context().ledger.time():
        raise SiteExpired("The time of this course site is over: its tutor can extend it.")
    return site


def _in_session(token: str) -> Person:
    """The student of a session; a page of another origin than the session's may not ask."""
    opened = get_context().ledger.sessions.opened_by(token)
    if opened is None:
        raise SessionEnded("This session has ended: the course's page can start another.")
    person: Person = opened[0]
    session: SessionRow = opened[1]
    # A frame without an origin of its own, which browsers call "null", is nobody's page.
    if request.headers.get("Origin") == "null" or asking_origin() not in {None, session.origin}:
        raise OriginRefused("This session belongs to a page of another origin.")
    g.session = session
    return person


def given_key() -> tuple[str | None, bool]:
    """The key in the request, and whether it was in the cookie."""
    header = request.headers.get("Authorization", "")
    if header.lower().startswith(_BEARER):
        return header[len(_BEARER) :].strip(), False
    cookie = read_cookie(SIGN_IN)
    return cookie, cookie is not None


def is_local() -> bool:
    """Whether this machine's user asks: nobody else can reach the service, and it has no tutor."""
    context = get_context()
    if not is_own_machine(context.settings) or came_through_a_proxy():
        return False
    return not context.ledger.people.tutor_exists()
