"""Sessions: a site's server asks for a token, and a student works with it in the site's page.

A token opens for ten minutes, for one student, from one origin, and is renewed by the same
server. Our page in the site's frame gets it from the page around it, and keeps it in memory
only: no cookie is needed, and none is set.
"""

from __future__ import annotations

from typing import Any, cast

from flask import Response, g

from service.http.answers.json_responses import json_response
from service.http.errors import ScopeMissing, TooManySessions
from service.http.logs.access_log import add_access_facts
from service.http.resources import Resources, request_invalid
from service.runtime.context import get_context, owner_id
from service.sites.documents import issued_session_document
from service.sites.schemas import IssuedSessionSchema, NewSessionSchema
from worker.errors import NotFound
from worker.store.ledger import AccessKey, NewSession, Scope, SiteRow

blueprint = Resources(
    "sessions", __name__, url_prefix="/v1/sessions", description="Students in a site's pages."
)


@blueprint.post("")
@blueprint.arguments(NewSessionSchema)
@blueprint.response(201, IssuedSessionSchema)
@blueprint.refuses(NotFound, TooManySessions)
def start_session(body: dict[str, Any]) -> Response:
    """Start a session for a student of one of the site's classes.

    Its token opens for ten minutes, and only from pages of this origin, which the site must
    name. It may do what both the session's scopes and the site's allow.
    """
    return _start(body["student_id"], body["origin"], tuple(body["scopes"]))


@blueprint.post("/<session_id:session_id>/renewals")
@blueprint.response(201, IssuedSessionSchema)
@blueprint.refuses(NotFound, TooManySessions)
def renew_session(session_id: str) -> Response:
    """Start another session like this one, for ten minutes more; this one ends in its time."""
    old = get_context().ledger.sessions.of_site(session_id, owner_id())
    still = tuple(one for one in old.scopes if one in _site().scopes)
    return _start(old.student_id, old.origin, still)


@blueprint.delete("/<session_id:session_id>")
@blueprint.response(204)
def end_session(session_id: str) -> Response:
    """End a session at once, as when the student signs out of the site."""
    get_context().ledger.sessions.end(session_id, owner_id())
    return Response(status=204)


def _start(student_id: str, origin: str, scopes: tuple[Scope, ...]) -> Response:
    """Start a session.

    Raises:
        ScopeMissing: The site may not do itself what the session should.
        RequestInvalid: The site does not name this origin.
        NotFound: The student is in none of the site's classes.
        TooManySessions: The site starts too many.
    """
    site, key = _site(), cast("AccessKey", g.access)
    beyond = [one for one in scopes if one not in site.scopes]
    if beyond:
        message = f"This site may not give away the scope {beyond[0]}, which it does not have."
        raise ScopeMissing(message, scope=beyond[0], field="scopes")
    if origin not in site.origins:
        named = ", ".join(site.origins) or "none"
        says = f"This site does not name this origin (it names {named}): its tutor can add it."
        raise request_invalid({"origin": [says]})
    context = get_context()
    context.session_rate.take(site.id)
    issued = context.ledger.sessions.start(
        NewSession(
            site_id=site.id, key_id=key.id, student_id=student_id, origin=origin, scopes=scopes
        )
    )
    add_access_facts(about=issued.session.id)
    return json_response(issued_session_document(issued), 201)


def _site() -> SiteRow:
    return cast("SiteRow", g.site)
