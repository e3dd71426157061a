"""A page for every code of a problem: what it means and what to do, in words.

A problem's `type` is the address of its page (RFC 9457, 3.1.1). The pages are plain HTML: they
load nothing and run nothing, so their content policy allows one style sheet alone, by its hash.
"""

from __future__ import annotations

import base64
import hashlib
from html import escape
from http import HTTPStatus

from flask import Response

from service.http.answers.problems import CODES, EXPLAINED_AT, WORDS, status_of
from service.http.resources import Resources
from worker.errors import NotFound

blueprint = Resources(
    "problems",
    __name__,
    url_prefix=EXPLAINED_AT,
    description="What the codes of problems mean, as pages for people.",
)
_STYLE = (
    "body{font:1.05rem/1.5 system-ui,sans-serif;max-width:42rem;margin:2rem auto;padding:0 1rem;"
    "color:#1d1b18;background:#fff}code{font-size:1.05em}dt{margin-top:1rem;font-weight:600}"
    "dd{margin:0}a{color:#1a4f8a}"
    "@media(prefers-color-scheme:dark){body{color:#eee;background:#161412}a{color:#9cc4f2}}"
)
_STYLE_HASH = base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
#: `frame-ancestors`, `base-uri` and `form-action` have no fall-back from `default-src`.
POLICY = (
    f"default-src 'none'; style-src 'sha256-{_STYLE_HASH}'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
_HTML = "text/html; charset=utf-8"
_TEXT = {"type": "string"}


@blueprint.get("")
@blueprint.doc(security=[])
@blueprint.response(200, _TEXT, content_type="text/html")
def list_problems() -> Response:
    """List every code of a problem, as a page.

    Each leads to the page that explains it.
    """
    lines = "".join(
        f'<dt><a href="{EXPLAINED_AT}/{code}"><code>{code}</code></a></dt>'
        f"<dd>{escape(WORDS[code]['title'])}</dd>"
        for code in sorted(CODES)
    )
    return _page("What can go wrong", f"<h1>What can go wrong</h1><dl>{lines}</dl>")


@blueprint.get("/<problem_code:code>")
@blueprint.doc(security=[])
@blueprint.response(200, _TEXT, content_type="text/html")
def explain_problem(code: str) -> Response:
    """Explain a code, as a page: what it means, and what to do.

    It is the address that a problem has as its `type`.
    """
    if code not in WORDS:
        raise NotFound("No problem has this code.")
    words, status = WORDS[code], status_of(code)
    body = (
        f"<h1><code>{code}</code></h1><p>{escape(words['title'])}</p>"
        f"<h2>What to do</h2><p>{escape(words['advice'])}</p>"
        f"<p>HTTP status: {status} {HTTPStatus(status).phrase}.</p>"
        f'<p><a href="{EXPLAINED_AT}">All codes</a></p>'
    )
    return _page(words["title"], body)


def _page(title: str, body: str) -> Response:
    html = (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_STYLE}</style></head><body>{body}</body></html>"
    )
    response = Response(html, content_type=_HTML)
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["Cache-Control"] = "max-age=3600"
    return response
