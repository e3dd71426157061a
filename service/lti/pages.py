"""Documents that a launch is answered with; what is secret in them is in the document alone.

A platform's pages may show them in a frame (CSP 3, 6.4.2 `frame-ancestors`), and nobody else's.
They hold data for our scripts in an element that no browser runs, are never cached, and have no
secret in an address.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from html import escape
from typing import Any

from flask import Response

from service.embed import policy_for
from service.page import Page
from worker.errors import NotFound
from worker.store.ledger import PlatformRow

_HEAD = (
    '<!DOCTYPE html><html lang="en" class="framed"><head><meta charset="utf-8">'
    '<title>Ricalco</title><meta name="viewport" content="width=device-width, initial-scale=1">'
    '<link rel="stylesheet" href="/css/base.css">{head}</head><body><main class="plate">{body}'
    "</main></body></html>"
)
#: Our form may lead to ourselves; a form of the page's other documents leads nowhere.
_NO_FORMS, _OWN_FORMS = "form-action 'none'", "form-action 'self'"


def refusal(detail: str, platform: PlatformRow | None) -> Response:
    """What is wrong, to be read in the frame of a course."""
    body = (
        '<div class="plate-head"><h1>This did not open</h1>'
        f'<p class="lead" role="alert">{escape(detail)}</p></div>'
    )
    return _document(_HEAD.format(head="", body=body), platform)


def storing(data: dict[str, Any], platform: PlatformRow) -> Response:
    """Has the platform keep a login's secret for this browser, then goes on to the platform."""
    return _document(_working("/js/lti/login.js", data), platform)


def fetching(data: dict[str, Any], platform: PlatformRow) -> Response:
    """Asks the platform for that secret, and sends the launch again with it."""
    return _document(_working("/js/lti/launch.js", data), platform)


def for_student(files: Page | None, data: dict[str, Any], platform: PlatformRow) -> Response:
    """The page of a course's frame, which has its session with it.

    Raises:
        NotFound: This service has no page.
    """
    if files is None:
        raise NotFound("This service has no page to come to: RICALCO_PAGE_DIR is empty.")
    html = files.file("embed.html").content.decode()
    return _document(html.replace("</head>", f"{_block(data)}</head>", 1), platform)


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


def for_tutor(view: TutorView, platform: PlatformRow) -> Response:
    """The class, and the way into it in a window of its own."""
    count = f"{view.students} student" + ("" if view.students == 1 else "s")
    hidden = f'<input type="hidden" name="launch" value="{escape(view.secret)}">'
    body = (
        f'<div class="plate-head"><h1>{escape(view.class_name)}</h1>'
        f'<p class="lead">{count} on the roster. Students of this course '
        "come here by themselves when they open this activity.</p></div>"
        + (
            f'<div class="plate-controls"><p role="status">{escape(view.told)}</p></div>'
            if view.told
            else ""
        )
        + f'<form method="post" action="/lti/sign-in" target="_blank">{hidden}'
        '<div class="plate-foot"><button class="button primary" type="submit">'
        "Open the class in a new window</button></div></form>"
    )
    if view.may_ask:
        body += (
            f'<form method="post" action="/lti/roster">{hidden}<div class="plate-foot">'
            '<button class="button" type="submit">'
            "Bring the course's students to the roster</button></div></form>"
        )
    return _document(_HEAD.format(head="", body=body), platform)


def for_map(pack_id: str) -> Response:
    """A pack's map, for whoever is signed in here and may see it; it says nothing to others.

    A browser that follows a link from another site sends no cookie with it (SameSite=Strict). The
    map is asked for by this document, and so with the cookie.
    """
    path = f"/v1/packs/{escape(pack_id)}/map.png"
    words = "If you see no map here, open the class from your course first, then come back."
    body = f'<p><a href="{path}"><img src="{path}" alt="{words}"></a></p>'
    return _document(_HEAD.format(head="", body=body), None)


def for_return(leads_to: str, answer: str, origin: str, platform: PlatformRow) -> Response:
    """What a tutor sees who places the activity: one button, which carries our answer back."""
    body = (
        '<div class="plate-head"><h1>Make your pack</h1>'
        '<p class="lead">Students of this course make their packs in it: '
        "from their own photo to sheets that join to exactly the size of their paper.</p></div>"
        f'<form method="post" action="{escape(leads_to)}">'
        f'<input type="hidden" name="JWT" value="{escape(answer)}">'
        '<div class="plate-foot"><button class="button primary" type="submit">'
        "Place it in the course</button></div></form>"
    )
    response = _document(_HEAD.format(head="", body=body), platform)
    # The form leads to the platform, which may lead on within its own origins.
    allowed = " ".join(("form-action", origin, *platform.origins))
    policy = response.headers["Content-Security-Policy"].replace(_OWN_FORMS, allowed)
    response.headers["Content-Security-Policy"] = policy
    return response


def _working(script: str, data: dict[str, Any]) -> str:
    head = f'{_block(data)}<script type="module" src="{script}"></script>'
    body = '<p role="status">One moment…</p><noscript><p>This needs JavaScript.</p></noscript>'
    return _HEAD.format(head=head, body=body)


def _block(data: dict[str, Any]) -> str:
    """Data for a script; nothing in it can end the element (HTML, 4.12.1.3)."""
    text = json.dumps(data).replace("<", "\\u003c").replace(">", "\\u003e")
    return f'<script type="application/json" id="launch">{text}</script>'


def _document(html: str, platform: PlatformRow | None) -> Response:
    response = Response(html, content_type="text/html; charset=utf-8")
    origins = " ".join(("'self'", *platform.origins)) if platform else None
    policy = policy_for(origins).replace(_NO_FORMS, _OWN_FORMS)
    response.headers["Content-Security-Policy"] = policy
    # Forms are sent with our own origin, which "no-referrer" would hide (Fetch, 3.1).
    response.headers["Referrer-Policy"] = "same-origin"
    return response
