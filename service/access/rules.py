"""Which roles may call which view, and a check of every id in an address.

A view that is not in `RULES` answers nobody, so none is open by oversight; a test goes
through all routes, roles and owners. Ids are checked twice: here, and by the owner in each
statement of the ledger. A thing that a person may not see is not found.

As long as there is no tutor, the user of this machine needs no key, where nobody else can
reach the service: on a loopback address, behind no proxy, under no other host name. That
holds again after the last tutor has deleted themself, and with them all data. Elsewhere
everybody needs a key. It is sent as `Authorization: Bearer` or, since pictures and
downloads in a page cannot send that header, as a cookie that no script can read and no
other site can send.
"""

from __future__ import annotations

from typing import Final

from flask import Flask, Response, g, request

from service.access.cookies import SIGN_IN, read_cookie
from service.http.errors import KeyMissing, KeyUnknown, NotAllowed
from service.http.host_guard import came_through_a_proxy, is_own_machine
from service.runtime.context import get_context
from worker.errors import NotFound
from worker.store.ledger import LOCAL_OWNER, ROLES, Person, Role

#: No key is asked for.
ANYONE: Final = frozenset[Role]()
EVERYBODY: Final = frozenset[Role](ROLES)
TUTORS: Final = frozenset[Role]({"tutor", "site"})
_TUTOR: Final = frozenset[Role]({"tutor"})
_MAKERS: Final = EVERYBODY
_PEOPLE: Final = frozenset[Role]({"tutor", "student", "local"})

#: The roles that may call each view, by endpoint: blueprint and name of the view.
RULES: Final[dict[str, frozenset[Role]]] = {
    "page": ANYONE,
    "page_file": ANYONE,
    "page_list": ANYONE,
    "page_embed": ANYONE,
    "page_embed_script": ANYONE,
    "health.get_health": ANYONE,
    "health.get_readiness": ANYONE,
    "health.get_metrics": frozenset({"local", "tutor", "site"}),
    "api-docs.openapi_json": EVERYBODY,
    "sizes.list_sheet_formats": EVERYBODY,
    "sizes.list_supports": EVERYBODY,
    "references.create_reference": _MAKERS,
    "references.find_references": _MAKERS,
    "references.get_reference": _MAKERS,
    "references.get_reference_preview": _MAKERS,
    "references.square_reference": _MAKERS,
    "references.delete_reference": _MAKERS,
    "plans.create_plan": _MAKERS,
    "previews.create_preview": _MAKERS,
    "packs.create_pack": _MAKERS,
    "packs.get_pack": _MAKERS,
    "packs.mark_pack": _MAKERS,
    "packs.follow_pack": _MAKERS,
    "packs.delete_pack": _MAKERS,
    "downloads.get_pack_pdf": _MAKERS,
    "downloads.get_map_png": _MAKERS,
    "downloads.get_picture_jpg": _MAKERS,
    "downloads.get_sheet_pdf": _MAKERS,
    "downloads.get_sheet_png": _MAKERS,
    "test-page.get_test_page": EVERYBODY,
    "readings.judge_readings": EVERYBODY,
    "printers.list_printers": _MAKERS,
    "printers.create_printer": _MAKERS,
    "printers.get_printer": _MAKERS,
    "printers.update_printer": _MAKERS,
    "printers.delete_printer": _MAKERS,
    "tutors.create_tutor": frozenset({"local"}),
    "sign-in.sign_in": ANYONE,
    "sign-in.sign_out": ANYONE,
    "me.get_me": EVERYBODY,
    "me.list_my_packs": _PEOPLE,
    "me.export_my_data": _PEOPLE,
    "me.delete_me": _PEOPLE,
    "keys.list_keys": frozenset({"tutor", "student"}),
    "keys.issue_key": frozenset({"tutor", "student"}),
    "keys.withdraw_key": frozenset({"tutor", "student"}),
    "sites.list_sites": _TUTOR,
    "sites.create_site": _TUTOR,
    "sites.delete_site": _TUTOR,
    "classes.list_classes": TUTORS,
    "classes.create_class": TUTORS,
    "classes.get_class": frozenset({"tutor", "site", "student"}),
    "classes.update_class": TUTORS,
    "classes.delete_class": TUTORS,
    "students.list_students": TUTORS,
    "students.add_students": TUTORS,
    "students.reorder_students": TUTORS,
    "students.update_student": TUTORS,
    "students.delete_student": TUTORS,
    "students.issue_student_key": TUTORS,
    "students.withdraw_student_key": TUTORS,
    "board.get_board": TUTORS,
    "batches.list_batches": TUTORS,
    "batches.estimate_batch": TUTORS,
    "batches.create_batch": TUTORS,
    "batches.get_batch": TUTORS,
    "batches.delete_batch": TUTORS,
    "batches.get_batch_archive": TUTORS,
    "batches.get_print_run": TUTORS,
    "batches.get_batch_table": TUTORS,
    "joining.check_join_code": ANYONE,
    "joining.join_class": ANYONE,
    "joining.get_join_picture": TUTORS,
}
#: The scheme before the key in the header (RFC 6750).
_BEARER = "bearer "


def check_access(app: Flask) -> None:
    """Check who asks before any view is called."""

    @app.before_request
    def check() -> None:
        if request.url_rule is None or request.endpoint is None:
            # The address is not found, whoever asks.
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
        # Another person gets another response from the same address.
        response.headers.add("Vary", "Authorization, Cookie")
        return response


def _check(person: Person, roles: frozenset[Role]) -> None:
    """Check the role, and that the person sees every thing that the address names.

    Raises:
        NotAllowed: The view is not for this role.
        NotFound: A thing does not exist, or is somebody else's.
    """
    if person.role not in roles:
        needed = " or ".join(sorted(roles))
        raise NotAllowed(f"This is for a {needed}; you ask as {person.role}.")
    for kind, id_ in (request.view_args or {}).items():
        if kind.endswith("_id") and not get_context().ledger.people.sees(
            person.acting_id, kind, id_
        ):
            raise NotFound("There is no such thing.")


def who_asks() -> Person:
    """The person that the key belongs to, or the user of a machine without tutors.

    Raises:
        KeyUnknown: The key belongs to nobody, or was withdrawn.
        KeyMissing: The request has none and needs one.
    """
    people = get_context().ledger.people
    key, from_cookie = given_key()
    opened = people.opened_by(key) if key is not None else None
    # The key of a browser's sign-in is valid in its cookie only, not in the header.
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
