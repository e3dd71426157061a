"""A page that shows the OpenAPI document, where the extra `ricalco[docs]` is installed.

It is Swagger UI (Apache-2.0), as the package flask-swagger-ui carries it from its registry; of
that package nothing is imported, and only the files named here are sent. They weigh 1.9 MB, so
they are an extra. The page asks nobody but this service, which its content policy holds.
"""

from __future__ import annotations

import gzip
import hashlib
from functools import cache
from html import escape
from http import HTTPStatus
from importlib.util import find_spec
from pathlib import Path

from flask import Flask, Response, request

from worker.errors import NotFound

PATH = "/v1/docs"
PACKAGE = "flask_swagger_ui"
#: Files of the package, by name, with their media types.
_FILES = {
    "swagger-ui.css": "text/css; charset=utf-8",
    "swagger-ui-bundle.js": "text/javascript; charset=utf-8",
}
_START = "start.js"
#: Without `validatorUrl` the viewer would send the document's address to a server elsewhere.
_SCRIPT = (
    'SwaggerUIBundle({url: "/v1/openapi.json", dom_id: "#viewer", deepLinking: true, '
    "validatorUrl: null});\n"
)
#: The viewer has pictures in its style sheet (data). `frame-ancestors`, `base-uri` and
#: `form-action` have no fall-back from `default-src`.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_HTML = (
    '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
    '<meta name="viewport" content="width=device-width, initial-scale=1">'
    f'<link rel="stylesheet" href="{PATH}/swagger-ui.css"></head><body><main id="viewer"></main>'
    f'<script src="{PATH}/swagger-ui-bundle.js"></script>'
    f'<script src="{PATH}/{_START}"></script></body></html>'
)


def serve_viewer(app: Flask) -> None:
    """Serve the page at `/v1/docs`; without the extra it says how to add it."""
    names = ",".join(f'"{name}"' for name in (*_FILES, _START))

    def show() -> Response:
        _folder()
        html = _HTML.format(title=escape(f"{app.config['API_TITLE']}: the API"))
        response = Response(html, content_type="text/html; charset=utf-8")
        response.headers["Content-Security-Policy"] = POLICY
        return response

    def show_file(name: str) -> Response:
        if name == _START:
            return _answer(_SCRIPT.encode(), _FILES["swagger-ui-bundle.js"])
        return _answer((_folder() / name).read_bytes(), _FILES[name])

    app.add_url_rule(PATH, endpoint="docs", view_func=show)
    app.add_url_rule(f"{PATH}/<any({names}):name>", endpoint="docs_file", view_func=show_file)


def _folder() -> Path:
    """The folder of the viewer's files.

    Raises:
        NotFound: The extra is not installed.
    """
    found = find_spec(PACKAGE)
    if found is None or found.origin is None:
        raise NotFound(
            "The page that shows the document is an extra: pip install 'ricalco[docs]', and "
            "start the service again. The document itself is at /v1/openapi.json."
        )
    return Path(found.origin).with_name("dist")


def _answer(content: bytes, media_type: str) -> Response:
    """A file, compressed where the browser takes that, or 304 where it has it already."""
    tag = hashlib.sha256(content).hexdigest()[:32]
    packed = request.accept_encodings["gzip"] > 0
    tag = f"{tag}-gzip" if packed else tag
    same = request.if_none_match.contains_weak(tag)
    response = Response(status=HTTPStatus.NOT_MODIFIED if same else HTTPStatus.OK)
    if not same:
        response.data = _packed(content) if packed else content
        response.content_type = media_type
        if packed:
            response.headers["Content-Encoding"] = "gzip"
    response.set_etag(tag)
    response.headers["Vary"] = "Accept-Encoding"
    response.headers["Cache-Control"] = "no-cache"
    return response


@cache
def _packed(content: bytes) -> bytes:
    return gzip.compress(content, 6, mtime=0)
