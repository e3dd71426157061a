"""Which roles may call which view, and a check of every id in an address.

A view that is not in `RULES` answers nobody, so none is open by oversight; a test goes
through all routes, roles and owners. Ids are checked twice: here, and by the owner in each
statement of the ledger. A thing that a person may not see is not found.

Who asks is found out in `service.access.identity`. A course site asks with a key of its own,
and a student in a page of that site with the token of a session; both are limited further, in
`service.access.scopes`.
"""

from __future__ import annotations

from typing import Final

from flask import Flask, Response, g, request

from service.access.identity import check_asking_page, given_key, who_asks
from service.access.scopes import check_launched, check_scope
from service.http.cors import course_origin
from service.http.errors import NotAllowed, OriginRefused
from service.http.logs.access_log import EXTERNAL_ID
from service.http.requests.host_guard import FROM_PLATFORMS, SAFE_METHODS
from service.runtime.context import get_context
from service.runtime.metrics import opens
from worker.errors import NotFound
from worker.store.ledger import ROLES, Person, Role

#: No key is asked for.
ANYONE: Final = frozenset[Role]()
EVERYBODY: Final = frozenset[Role](ROLES)
TUTORS: Final = frozenset[Role]({"tutor", "site"})
_TUTOR: Final = frozenset[Role]({"tutor"})
_SITE: Final = frozenset[Role]({"site"})
_MAKERS: Final = EVERYBODY
_PEOPLE: Final = frozenset[Role]({"tutor", "student", "local"})
_METRICS: Final = "health.get_metrics"

#: The roles that may call each view, by endpoint: blueprint and name of the view.
RULES: Final[dict[str, frozenset[Role]]] = {
    "page": ANYONE,
    "page_file": ANYONE,
    "page_languages": ANYONE,
    "page_list": ANYONE,
    "page_embed": ANYONE,
    "page_embed_script": ANYONE,
    # A platform's token is what lets in, or a secret of the page that it has led to.
    "lti_login": ANYONE,
    "lti_launch": ANYONE,
    "lti_jwks": ANYONE,
    "lti_map": ANYONE,
    "lti_renewals": ANYONE,
    "lti_sign_in": ANYONE,
    "lti_roster": ANYONE,
    "health.get_health": ANYONE,
    "health.get_readiness": ANYONE,
    _METRICS: frozenset({"local", "tutor"}),
    "api-docs.openapi_json": ANYONE,
    "docs": ANYONE,
    "docs_file": ANYONE,
    "problems.list_problems": ANYONE,
    "problems.explain_problem": ANYONE,
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
    "grids.create_grid": _MAKERS,
    "grids.create_grid_picture": _MAKERS,
    "packs.create_pack": _MAKERS,
    "packs.get_pack": _MAKERS,
    "packs.mark_pack": _MAKERS,
    "packs.follow_pack": _MAKERS,
    "packs.delete_pack": _MAKERS,
    "downloads.get_pack_pdf": _MAKERS,
    "downloads.get_map_png": _MAKERS,
    "downloads.get_picture_jpg": _MAKERS,
    "downloads.get_thumbnail_jpg": _MAKERS,
    "downloads.get_sheet_pdf": _MAKERS,
    "downloads.get_sheet_png": _MAKERS,
    "downloads.get_full_size_pdf": _MAKERS,
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
    "sites.get_site": _TUTOR,
    "sites.update_site": _TUTOR,
    "sites.delete_site": _TUTOR,
    "sites.list_site_keys": _TUTOR,
    "sites.issue_site_key": _TUTOR,
    "sites.withdraw_site_key": _TUTOR,
    "site-logs.get_site_log": _TUTOR,
    "class-site-logs.get_class_site_log": _TUTOR,
    "webhooks.list_webhooks": TUTORS,
    "webhooks.create_webhook": TUTORS,
    "webhooks.get_webhook": TUTORS,
    "webhooks.update_webhook": TUTORS,
    "webhooks.delete_webhook": TUTORS,
    "webhooks.rotate_webhook_secret": TUTORS,
    "webhooks.list_deliveries": TUTORS,
    "webhooks.replay_delivery": TUTORS,
    "sessions.start_session": _SITE,
    "sessions.renew_session": _SITE,
    "sessions.end_session": _SITE,
    "classes.list_classes": TUTORS,
    "classes.create_class": _TUTOR,
    "classes.get_class": frozenset({"tutor", "site", "student"}),
    "classes.update_class": TUTORS,
    "classes.copy_class": _TUTOR,
    "classes.set_class_picture": TUTORS,
    "classes.remove_class_picture": TUTORS,
    "classes.delete_class": _TUTOR,
    "class-tutors.list_class_tutors": TUTORS,
    "class-tutors.remove_class_tutor": TUTORS,
    "tutors-by-external-id.put_tutor_by_external_id": TUTORS,
    "tutors-by-external-id.get_tutor_by_external_id": TUTORS,
    "students.list_students": TUTORS,
    "students.add_students": TUTORS,
    "students.reorder_students": TUTORS,
    "students.update_student": TUTORS,
    "students.delete_student": TUTORS,
    "students-by-external-id.put_student_by_external_id": TUTORS,
    "students-by-external-id.get_student_by_external_id": TUTORS,
    "student_keys.issue_student_key": TUTORS,
    "student_keys.withdraw_student_key": TUTORS,
    "student_keys.create_key_link": TUTORS,
    # The link's secret is what lets in.
    "key-links.use_key_link": ANYONE,
    "class-packs.find_class_packs": TUTORS,
    "board.get_board": TUTORS,
    "batches.list_batches": TUTORS,
    "batches.estimate_batch": TUTORS,
    "batches.create_batch": TUTORS,
    "batches.get_batch": TUTORS,
    "batches.follow_batch": TUTORS,
    "batches.delete_batch": TUTORS,
    "batches.get_batch_archive": TUTORS,
    "batches.get_print_run": TUTORS,
    "tickets.get_ticket": TUTORS,
    "tickets.get_ticket_file": TUTORS,
    "batches.get_batch_table": TUTORS,
    "links.create_pack_link": _MAKERS,
    "links.create_batch_link": TUTORS,
    # The link is the key.
    "links.open_link": ANYONE,
    "joining.check_join_code": ANYONE,
    "joining.join_class": ANYONE,
    "joining.get_join_picture": TUTORS,
}


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
        if request.endpoint not in FROM_PLATFORMS:
            check_asking_page()
        if request.endpoint == _METRICS and _by_metrics_key():
            return
        if roles is ANYONE:
            _check_sender()
            return
        g.person = who_asks()
        _check(g.person, roles)
        check_scope(request.endpoint, g.get("site"), g.get("session"))
        check_launched(request.endpoint, g.get("access"))
        _check_things(g.person)

    @app.after_request
    def vary(response: Response) -> Response:
        # Another person gets another response from the same address.
        response.headers.add("Vary", "Authorization, Cookie")
        return response


def _by_metrics_key() -> bool:
    """Whether a Prometheus asks, with the key that opens its page and nothing else."""
    key, from_cookie = given_key()
    return not from_cookie and opens(get_context().settings.metrics_key, key)


def _check_sender() -> None:
    """Check that no course page signs a browser in: a token says nothing to such a view.

    Raises:
        OriginRefused: A page of another origin sends it.
    """
    if course_origin() is not None and request.method not in SAFE_METHODS:
        raise OriginRefused("Pages of other origins sign nobody in, and let nobody join.")


def _check(person: Person, roles: frozenset[Role]) -> None:
    """Check the role, or raise NotAllowed."""
    if person.role not in roles:
        needed = " or ".join(sorted(roles))
        raise NotAllowed(f"This is for a {needed}; you ask as {person.role}.")


def _check_things(person: Person) -> None:
    """Check that the person sees every thing that the address names, or raise NotFound."""
    for kind, id_ in (request.view_args or {}).items():
        if kind == EXTERNAL_ID or not kind.endswith("_id"):
            continue
        if not get_context().ledger.people.sees(person.acting_id, kind, id_):
            raise NotFound("There is no such thing.")
