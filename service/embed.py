"""The page in a frame of a course site: the only address that other pages may frame.

`/embed` names the site and the origin of the page around it. Only where the site names that
origin too may browsers show it there (CSP Level 3, 6.4.2 `frame-ancestors`); everywhere else
it is as closed to frames as all other addresses. It holds nothing of anybody: who the student
is, the frame is told by the course page (`client/web/js/embed`). `/embed.js` makes that frame.
"""

from __future__ import annotations

from flask import Flask, Response, request

from service.page import POLICY, Page
from service.runtime.context import get_context
from worker.errors import NotFound

FRAME = "embed.html"
SCRIPT = "embed.js"
_NOBODY = "frame-ancestors 'none'"


def serve_embed(app: Flask, page: Page) -> None:
    """Serve the frame at `/embed` and its script at `/embed.js`."""

    def show_frame() -> Response:
        """Not cached: who may frame it is said anew each time."""
        file = page.file(FRAME)
        response = Response(file.content, content_type=file.media_type)
        response.headers["Content-Security-Policy"] = policy_for(_framing_origin())
        return response

    def show_script() -> Response:
        response = page.answer(SCRIPT)
        # A page that isolates itself from others (COEP) may load it too.
        response.headers["Cross-Origin-Resource-Policy"] = "cross-origin"
        return response

    app.add_url_rule("/embed", endpoint="page_embed", view_func=show_frame)
    app.add_url_rule(f"/{SCRIPT}", endpoint="page_embed_script", view_func=show_script)


def policy_for(origin: str | None) -> str:
    """The page's content policy, with one origin that may frame it, or none."""
    return POLICY if origin is None else POLICY.replace(_NOBODY, f"frame-ancestors {origin}")


def _framing_origin() -> str | None:
    """The origin in the address, where the site in the address has its pages there."""
    try:
        site = get_context().ledger.sites.find(request.args.get("site", ""))
    except NotFound:
        return None
    stated = request.args.get("origin", "")
    return (
        stated if stated in site.origins and site.expires_at > get_context().ledger.time() else None
    )
