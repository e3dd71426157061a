"""The views below `/lti`; `service.lti.routes` loads them when somebody comes."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, Final, cast

from flask import Response, current_app, g, jsonify, request

from service.access import sign_in as browser_sign_in
from service.http.errors import LaunchRefused, ScopeMissing, SessionEnded, SiteExpired
from service.http.logs.access_log import add_access_facts
from service.http.requests.bodies import read_json
from service.lti import names, pages
from service.lti.deep_linking import offer
from service.lti.grades import note_grades
from service.lti.id_token import Claims
from service.lti.launch import finish
from service.lti.login import begin, cookie_name
from service.lti.people import Guest, Part, receive, settle_part
from service.lti.platform_keys import PlatformKeys
from service.lti.roster import note_members, put_members
from service.lti.words import words_for
from service.page import Page
from service.runtime.context import get_context
from worker.errors import NotFound
from worker.lti.fetch import Fetcher
from worker.lti.keys import public_keys
from worker.store.ledger import (
    SESSION_SCOPES,
    LaunchRow,
    NewSession,
    PlatformRow,
    Scope,
    SiteRow,
)

_KEYS = "ricalco-platform-keys"
#: What a launch does in the platform's name, before anything is made by it.
_NEEDED: Final[dict[Part, tuple[Scope, ...]]] = {
    "tutor": ("add-tutors",),
    "student": ("add-students", "start-sessions"),
}
_AGAIN = "This has ended: open it again in the course."


def login(files: Page | None) -> Response:
    """Begin a login that a platform asks for."""
    return begin(files)


def launch(files: Page | None) -> Response:
    """End a login: a student gets the page, a tutor the way into the class, or a link to place."""
    found = finish(_keys(), files)
    if isinstance(found, Response):
        return found
    claims, platform = found
    part = settle_part(claims, platform)
    _check_site(platform, *_NEEDED[part])
    if claims.get(names.MESSAGE_TYPE) == names.DEEP_LINKING_REQUEST:
        return _forget_login(offer(claims, platform, words_for(files, _locale(claims))))
    if claims.get(names.MESSAGE_TYPE) != names.RESOURCE_LINK_REQUEST:
        raise LaunchRefused("This kind of message is not taken here.")
    link = claims.get(names.RESOURCE_LINK)
    if not isinstance(link, dict) or not link.get("id"):
        raise LaunchRefused("The launch does not say from which activity it comes.")
    guest = receive(claims, platform)
    _log_as(platform, guest.context.class_id)
    add_access_facts(actor=guest.person_id, about=guest.context.class_id)
    note_grades(claims, platform, guest)
    secret = get_context().ledger.launches.open(
        platform.id, guest.context.class_id, guest.person_id
    )
    return _forget_login(_show(files, claims, platform, guest, secret))


def _forget_login(response: Response) -> Response:
    response.delete_cookie(
        cookie_name(request.form["state"]), secure=True, samesite="None", partitioned=True
    )
    return response


def _show(
    files: Page | None, claims: Claims, platform: PlatformRow, guest: Guest, secret: str
) -> Response:
    if guest.part == "tutor":
        row = get_context().ledger.classes.get(guest.context.class_id, guest.person_id)
        students = get_context().ledger.students.of_class(row.id)
        view = pages.TutorView(
            class_name=row.name,
            students=len(students),
            secret=secret,
            may_ask=note_members(claims, platform, guest),
        )
        return pages.for_tutor(words_for(files, _locale(claims)), view, platform)
    data = {
        "token": _start_session(platform, guest.person_id),
        "renewal": secret,
        "site": platform.site_id,
        "language": _locale(claims),
    }
    return pages.for_student(files, data, platform)


def _locale(claims: Claims) -> str:
    """The language in which the platform shows itself to this person (Core, 5.4.4), if it says."""
    said = claims.get(names.PRESENTATION)
    language = said.get("locale") if isinstance(said, dict) else None
    return language if isinstance(language, str) else ""


def renewals(files: Page | None) -> Response:
    """Give a launch's page the token of another session, while the launch lasts."""
    del files
    body = read_json(request.get_data())
    row = _launched(body.get("renewal"))
    if get_context().ledger.people.person(row.person_id).role != "student":
        raise SessionEnded(_AGAIN)
    platform = get_context().ledger.platforms.get(row.platform_id)
    _log_as(platform, row.class_id)
    add_access_facts(actor=row.person_id)
    return jsonify(token=_start_session(platform, row.person_id))


def sign_in(files: Page | None) -> Response:
    """Sign a tutor in, in a window of its own: once for each launch."""
    del files
    secret = request.form.get("launch")
    row = _launched(secret)
    ledger = get_context().ledger
    tutor = ledger.people.person(row.person_id)
    platform = ledger.platforms.get(row.platform_id)
    _check_site(platform, "add-tutors")
    if tutor.role != "tutor" or not ledger.launches.close(str(secret)):
        raise SessionEnded(_AGAIN)
    _log_as(platform, row.class_id)
    key_id = _key_of(tutor.id, ledger.sites.find(platform.site_id))
    add_access_facts(actor=row.person_id, about=key_id)
    where = {"Location": f"/#class/{row.class_id}"}
    seen = Response(status=HTTPStatus.SEE_OTHER, headers=where)
    return browser_sign_in.begin(seen, key_id)


def _key_of(tutor_id: str, site: SiteRow) -> str:
    """The key that a tutor's sign-ins from this platform belong to; it goes with the platform."""
    people = get_context().ledger.people
    for one in people.keys(tutor_id):
        if one.via_site == site.id and not one.is_sign_in:
            return one.id
    return people.issue_key(tutor_id, site.name, via_site=site.id).access.id


def roster(files: Page | None) -> Response:
    """Bring who learns in the course to the roster, as its tutor asks; tell how many there are."""
    t = words_for(files, request.form.get("language"))
    secret = str(request.form.get("launch"))
    row = _launched(secret)
    ledger = get_context().ledger
    if ledger.people.person(row.person_id).role != "tutor":
        raise SessionEnded(_AGAIN)
    platform = g.lti_platform = ledger.platforms.get(row.platform_id)
    _check_site(platform, "add-students")
    # Whoever has been taken out of the class brings nobody into it.
    class_name = ledger.classes.get(row.class_id, row.person_id).name
    _log_as(platform, row.class_id)
    put = put_members(platform, ledger.platforms.context_of_class(platform.id, row.class_id))
    add_access_facts(actor=row.person_id, about=row.class_id, students=put.listed)
    view = pages.TutorView(
        class_name=class_name,
        students=len(ledger.students.of_class(row.class_id)),
        secret=secret,
        may_ask=True,
        told=t("launch.brought", listed=put.listed, added=put.added),
    )
    return pages.for_tutor(t, view, platform)


def jwks(files: Page | None) -> Response:
    """Our public keys, by which platforms check what we send them."""
    del files
    return jsonify(public_keys(get_context().ledger))


def _log_as(platform: PlatformRow, class_id: str) -> None:
    """Have this call written into the log of the platform's site (`service.access.site_log`)."""
    g.site = get_context().ledger.sites.find(platform.site_id)
    g.site_log_class = class_id


def _launched(secret: Any) -> LaunchRow:
    row = get_context().ledger.launches.opened(secret) if isinstance(secret, str) else None
    if row is None:
        raise SessionEnded(_AGAIN)
    return row


def _start_session(platform: PlatformRow, student_id: str) -> str:
    """The token of a session for our own page alone.

    Raises:
        LaunchRefused: The student was withdrawn from the class.
        SiteExpired, ScopeMissing, TooManySessions: The platform may start none, or none now.
    """
    key_id, context = _check_site(platform, "start-sessions"), get_context()
    context.session_rate.take_for(student_id, platform.site_id)
    new = NewSession(
        site_id=platform.site_id,
        key_id=key_id,
        student_id=student_id,
        origin="",
        scopes=SESSION_SCOPES,
    )
    try:
        return context.ledger.sessions.start(new).token
    except NotFound as error:
        message = "You are not in this class any more: ask your tutor."
        raise LaunchRefused(message, reason="withdrawn") from error


def _check_site(platform: PlatformRow, *scopes: Scope) -> str:
    """The key on which what the platform does stands.

    Raises:
        SiteExpired: Its site's time is over, or all keys of that are withdrawn.
        ScopeMissing: Its site lacks one of these scopes.
    """
    ledger = get_context().ledger
    key_id, site = ledger.platforms.site_key(platform.site_id), ledger.sites.find(platform.site_id)
    if key_id is None or site.expires_at <= ledger.time():
        raise SiteExpired("The time of this platform is over here: its tutor can extend it.")
    for scope in scopes:
        if scope not in site.scopes:
            message = f"This needs the scope {scope}, which this platform's course site has not."
            raise ScopeMissing(message, scope=scope)
    return key_id


def _keys() -> PlatformKeys:
    """The key sets of platforms, which all requests share."""
    app = current_app
    if _KEYS not in app.extensions:
        hosts = get_context().settings.lti_private_hosts
        app.extensions.setdefault(_KEYS, PlatformKeys(Fetcher(hosts)))
    return cast("PlatformKeys", app.extensions[_KEYS])
