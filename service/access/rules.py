"""Who may call what: one table for all views, and a look at every id in an address.

A view that is not in `RULES` answers nobody, so none is open by oversight; a test goes
through all routes, roles and owners. The look at ids is a second door: each statement of
the ledger carries its owner too. Whoever may not see a thing is told that it is not there.

Until there is a tutor, a service that only this machine reaches is its user's own and asks
for no key: on a loopback address, behind no proxy, under no other name. There it is theirs
again when the last tutor deletes themself, which leaves nothing that could be seen: all
that there was is deleted with them. Anywhere else nobody is ever its user. A key comes as
`Authorization: Bearer` or, since pictures and downloads in a page cannot send that, as a
cookie that no script reads and no other site can have sent.
"""

from __future__ import annotations

from typing import Final

from flask import Flask, Response, g, request

from service.access.cookies import SIGN_IN, read_cookie
from service.http.errors import KeyMissing, KeyUnknown, NotAllowed
from service.http.host_guard import came_through_a_proxy, is_own_machine
from service.runtime.context import desk
from worker.errors import NotFound
from worker.store.ledger import LOCAL_OWNER, ROLES, Person, Role

#: No key is asked for.
ANYONE: Final = frozenset[Role]()
EVERYBODY: Final = frozenset[Role](ROLES)
TUTORS: Final = frozenset[Role]({"tutor", "site"})
_TUTOR: Final = frozenset[Role]({"tutor"})
_MAKERS: Final = EVERYBODY
_PEOPLE: Final = frozenset[Role]({"tutor", "student", "local"})

#: Roles that may call each view; on whose things, the ids in its address say.
RULES: Final[dict[str, frozenset[Role]]] = {
    "page": ANYONE,
    "page_file": ANYONE,
    "page_list": ANYONE,
    "health.healthz": ANYONE,
    "health.readyz": ANYONE,
    "health.figures": frozenset({"local", "tutor", "site"}),
    "api-docs.openapi_json": EVERYBODY,
    "sizes.sheet_formats": EVERYBODY,
    "sizes.supports": EVERYBODY,
    "references.add": _MAKERS,
    "references.find": _MAKERS,
    "references.show": _MAKERS,
    "references.preview": _MAKERS,
    "references.square": _MAKERS,
    "references.delete": _MAKERS,
    "plans.make": _MAKERS,
    "previews.show": _MAKERS,
    "packs.ask": _MAKERS,
    "packs.show": _MAKERS,
    "packs.mark": _MAKERS,
    "packs.follow": _MAKERS,
    "packs.delete": _MAKERS,
    "downloads.pack_pdf": _MAKERS,
    "downloads.map_png": _MAKERS,
    "downloads.picture_jpg": _MAKERS,
    "downloads.sheet_pdf": _MAKERS,
    "downloads.sheet_png": _MAKERS,
    "test-page.page": EVERYBODY,
    "readings.judge": EVERYBODY,
    "printers.every": _MAKERS,
    "printers.make": _MAKERS,
    "printers.show": _MAKERS,
    "printers.change": _MAKERS,
    "printers.delete": _MAKERS,
    "tutors.make": frozenset({"local"}),
    "sign-in.sign_in_": ANYONE,
    "sign-in.sign_out": ANYONE,
    "me.show": EVERYBODY,
    "me.packs": _PEOPLE,
    "me.export": _PEOPLE,
    "me.delete": _PEOPLE,
    "keys.every": frozenset({"tutor", "student"}),
    "keys.issue": frozenset({"tutor", "student"}),
    "keys.withdraw": frozenset({"tutor", "student"}),
    "sites.every_site": _TUTOR,
    "sites.make_site": _TUTOR,
    "sites.delete_site": _TUTOR,
    "classes.every": TUTORS,
    "classes.make": TUTORS,
    "classes.show": frozenset({"tutor", "site", "student"}),
    "classes.change": TUTORS,
    "classes.delete": TUTORS,
    "students.every": TUTORS,
    "students.add": TUTORS,
    "students.reorder": TUTORS,
    "students.change": TUTORS,
    "students.delete": TUTORS,
    "students.issue_key": TUTORS,
    "students.withdraw_key": TUTORS,
    "board.show": TUTORS,
    "batches.every": TUTORS,
    "batches.estimate": TUTORS,
    "batches.make": TUTORS,
    "batches.show": TUTORS,
    "batches.delete": TUTORS,
    "batches.archive": TUTORS,
    "batches.print_run": TUTORS,
    "batches.table": TUTORS,
    "joining.look": ANYONE,
    "joining.join": ANYONE,
    "joining.picture": TUTORS,
}
#: What stands before a key in the header (RFC 6750).
_BEARER = "bearer "


def admit(app: Flask) -> None:
    """Look at who asks before any view is called."""

    @app.before_request
    def look() -> None:
        if request.url_rule is None or request.endpoint is None:
            # Nothing is there, which says nothing about anybody.
            return
        roles = RULES.get(request.endpoint)
        if roles is None:
            raise NotAllowed("Nobody may call this.")
        if roles is ANYONE:
            return
        g.person = who_asks()
        _check(g.person, roles)

    @app.after_request
    def vary(response: Response) -> Response:
        # One address has another answer for another person.
        response.headers.add("Vary", "Authorization, Cookie")
        return response


def _check(person: Person, roles: frozenset[Role]) -> None:
    """See that the role may, and that every thing named is one that they see.

    Raises:
        NotAllowed: It is not for this role.
        NotFound: A thing is not there, or not theirs.
    """
    if person.role not in roles:
        needed = " or ".join(sorted(roles))
        raise NotAllowed(f"This is for a {needed}; you ask as {person.role}.")
    for kind, id_ in (request.view_args or {}).items():
        if kind.endswith("_id") and not desk().ledger.people.sees(person.acting_id, kind, id_):
            raise NotFound("There is no such thing.")


def who_asks() -> Person:
    """The person whose key came, or the user of a machine without tutors.

    Raises:
        KeyUnknown: The key opens nothing.
        KeyMissing: None came, and one is needed.
    """
    people = desk().ledger.people
    key, from_cookie = given_key()
    opened = people.opened_by(key) if key is not None else None
    # What a browser's sign-in opens with is for its cookie, and for no program.
    if opened is not None and (from_cookie or not opened[1].is_sign_in):
        g.by_cookie = from_cookie
        person, g.access = opened
        return person
    if is_local() and (key is None or from_cookie):
        return Person(id=LOCAL_OWNER, role="local", name="Local")
    if key is not None:
        raise KeyUnknown("This key opens nothing: it is wrong, or was withdrawn.")
    raise KeyMissing("Ask with your key: Authorization: Bearer rck_…, or join a class.")


def given_key() -> tuple[str | None, bool]:
    """The key that came, and whether it came as a cookie."""
    header = request.headers.get("Authorization", "")
    if header.lower().startswith(_BEARER):
        return header[len(_BEARER) :].strip(), False
    cookie = read_cookie(SIGN_IN)
    return cookie, cookie is not None


def is_local() -> bool:
    """Whether this machine's own user asks: nobody else can, and there are no tutors."""
    at = desk()
    if not is_own_machine(at.settings) or came_through_a_proxy():
        return False
    return not at.ledger.people.tutor_exists()
