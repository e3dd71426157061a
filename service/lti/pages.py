"""Documents that a launch is answered with; what is secret in them is in the document alone.

A platform's pages may show them in a frame (CSP 3, 6.4.2 `frame-ancestors`), and nobody else's.
They hold data for our scripts in an element that no browser runs, are never cached, and have no
secret in an address.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from html import escape
from typing import Any, Final

from flask import Response

from service.embed import policy_for
from service.http.errors import LaunchRefused
from service.lti.words import Words
from service.page import Page
from worker.errors import NotFound, RicalcoError
from worker.store.ledger import PlatformRow

_DOCUMENT = (
    '<!DOCTYPE html><html lang="{language}" class="framed"><head><meta charset="utf-8">'
    '<title>Ricalco</title><meta name="viewport" content="width=device-width, initial-scale=1">'
    '<link rel="stylesheet" href="/css/base.css">{head}</head><body><main class="plate">{body}'
    "</main></body></html>"
)
_OTHER: Final = "other"
#: Reasons beside which the error's own words are shown: who looks after the course needs them.
_WITH_DETAIL: Final = frozenset({_OTHER, "platform"})
#: What refusals that have no reason of their own come to for somebody who is no administrator.
_REASONS: Final = {
    "platform-unreachable": "platform",
    "scope-missing": "site-over",
    "session-ended": "over",
    "site-expired": "site-over",
    "too-many-sessions": "busy",
}
#: Our form may lead to ourselves; a form of the page's other documents leads nowhere.
_NO_FORMS, _OWN_FORMS = "form-action 'none'", "form-action 'self'"


def refusal(t: Words, error: RicalcoError, platform: PlatformRow | None) -> Response:
    """What is wrong, to be read in the frame of a course.

    What only an administrator can mend is told in English, as logs and manuals are.
    """
    reason = error.reason if isinstance(error, LaunchRefused) else _REASONS.get(error.code)
    reason = reason or _OTHER
    body = _lead(t("launch.refused-title"), t.one_of("launch.refused", reason), "alert")
    if reason in _WITH_DETAIL:
        body += f'<p lang="en">{escape(error.detail)}</p>'
    return _document(t, body, platform)


def storing(t: Words, data: dict[str, Any], platform: PlatformRow) -> Response:
    """Has the platform keep a login's secret for this browser, then goes on to the platform."""
    return _working(t, "/js/lti/login.js", data, platform)


def fetching(t: Words, data: dict[str, Any], platform: PlatformRow) -> Response:
    """Asks the platform for that secret, and sends the launch again with it."""
    return _working(t, "/js/lti/launch.js", data, platform)


def for_student(files: Page | None, data: dict[str, Any], platform: PlatformRow) -> Response:
    """The page of a course's frame, which has its session with it.

    Raises:
        NotFound: This service has no page.
    """
    if files is None:
        raise NotFound("This service has no page to come to: RICALCO_PAGE_DIR is empty.")
    html = files.file("embed.html").content.decode()
    return _respond(html.replace("</head>", f"{_block(data)}</head>", 1), platform)


@dataclass(frozen=True, kw_only=True)
class TutorView:
    """What a tutor sees of a class in the frame.

    Attributes:
        students: How many are on the roster.
        secret: The launch's own, which the forms send back.
        may_ask: Whether the platform lists who is in the course.
        told: What came of the last press.
    """

    class_name: str
    students: int
    secret: str
    may_ask: bool
    told: str = ""


def for_tutor(t: Words, view: TutorView, platform: PlatformRow) -> Response:
    """The class, and the way into it in a window of its own."""
    kept = {"launch": view.secret, "language": t.language}
    lead = f"{t('launch.students', count=view.students)} {t('launch.come-themselves')}"
    body = _lead(view.class_name, lead)
    if view.told:
        told = f'<p role="status">{escape(view.told)}</p>'
        body += f'<div class="plate-controls">{told}</div>'
    body += _form("/lti/sign-in", kept, _button(t("launch.open"), primary=True), new_window=True)
    if view.may_ask:
        body += _form("/lti/roster", kept, _button(t("launch.bring")))
    return _document(t, body, platform)


def for_map(t: Words, pack_id: str) -> Response:
    """A pack's map, for whoever is signed in here and may see it; it says nothing to others.

    A browser that follows a link from another site sends no cookie with it (SameSite=Strict). The
    map is asked for by this document, and so with the cookie.
    """
    path = f"/v1/packs/{escape(pack_id)}/map.png"
    words = escape(t("launch.no-map"))
    return _document(t, f'<p><a href="{path}"><img src="{path}" alt="{words}"></a></p>', None)


def for_return(
    t: Words, leads_to: str, answer: str, origin: str, platform: PlatformRow
) -> Response:
    """What a tutor sees who places the activity: one button, which carries our answer back."""
    body = _lead(t("launch.make-pack"), t("launch.place-lead"))
    body += _form(leads_to, {"JWT": answer}, _button(t("launch.place"), primary=True))
    response = _document(t, body, platform)
    # The form leads to the platform, which may lead on within its own origins.
    allowed = " ".join(("form-action", origin, *platform.origins))
    policy = response.headers["Content-Security-Policy"].replace(_OWN_FORMS, allowed)
    response.headers["Content-Security-Policy"] = policy
    return response


def _lead(title: str, lead: str, role: str = "") -> str:
    """The head of a page: its title, and what it is for."""
    is_a = f' role="{role}"' if role else ""
    return (
        f'<div class="plate-head"><h1>{escape(title)}</h1>'
        f'<p class="lead"{is_a}>{escape(lead)}</p></div>'
    )


def _form(leads_to: str, kept: dict[str, str], button: str, *, new_window: bool = False) -> str:
    """A form of one button, which sends what the page has kept for it."""
    where = ' target="_blank"' if new_window else ""
    hidden = "".join(
        f'<input type="hidden" name="{escape(name)}" value="{escape(value)}">'
        for name, value in kept.items()
    )
    return f'<form method="post" action="{escape(leads_to)}"{where}>{hidden}{button}</form>'


def _button(text: str, *, primary: bool = False) -> str:
    kind = "button primary" if primary else "button"
    button = f'<button class="{kind}" type="submit">{escape(text)}</button>'
    return f'<div class="plate-foot">{button}</div>'


def _working(t: Words, script: str, data: dict[str, Any], platform: PlatformRow) -> Response:
    head = f'{_block(data)}<script type="module" src="{script}"></script>'
    body = (
        f'<p role="status">{escape(t("launch.working"))}</p>'
        f"<noscript><p>{escape(t('launch.script'))}</p></noscript>"
    )
    return _document(t, body, platform, head)


def _block(data: dict[str, Any]) -> str:
    """Data for a script; nothing in it can end the element (HTML, 4.12.1.3)."""
    text = json.dumps(data).replace("<", "\\u003c").replace(">", "\\u003e")
    return f'<script type="application/json" id="launch">{text}</script>'


def _document(t: Words, body: str, platform: PlatformRow | None, head: str = "") -> Response:
    return _respond(_DOCUMENT.format(language=t.language, head=head, body=body), platform)


def _respond(html: str, platform: PlatformRow | None) -> Response:
    response = Response(html, content_type="text/html; charset=utf-8")
    origins = " ".join(("'self'", *platform.origins)) if platform else None
    policy = policy_for(origins).replace(_NO_FORMS, _OWN_FORMS)
    response.headers["Content-Security-Policy"] = policy
    # Forms are sent with our own origin, which "no-referrer" would hide (Fetch, 3.1).
    response.headers["Referrer-Policy"] = "same-origin"
    return response
