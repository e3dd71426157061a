"""The page: the files of one folder, sent unchanged to browsers that the host guard accepts.

The service knows nothing of what the page does; a setting names the folder of
its files, and without it nothing is served. The files are listed at the start, so that no
address can lead out of the folder. Each file is compressed once and not once a request,
and carries a strong entity tag: a browser that has it gets a response without a body
(RFC 9110, 8.8.3 and 13.1.2).
"""

from __future__ import annotations

import gzip
import hashlib
import os
import re
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from threading import Lock

from flask import Flask, Response, jsonify, request
from werkzeug.routing import BaseConverter

from worker.errors import NotFound, SettingInvalid
from worker.settings import Settings

FRONT = "index.html"
WORKER = "sw.js"
#: Where the page's texts are: a folder for each language.
WORDS = "words"
LANGUAGES = f"/{WORDS}/languages.json"
#: Media types by file extension; files of other types are not served.
TYPES = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".txt": "text/plain; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
}
#: File types that are compressed already.
_DENSE = frozenset({".png", ".woff2"})
#: Browsers revalidate text each time, which costs a response without a body. Pictures and
#: fonts change seldom enough to be cached for a day.
_ASK_FIRST = "no-cache"
_A_DAY = "max-age=86400"
#: Only resources of this origin. Pictures may also be made in the page (blob) and embedded
#: in its styles (data). `frame-ancestors`, `base-uri` and `form-action`
#: have no fall-back from `default-src`, so they are written out.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


@dataclass(frozen=True, kw_only=True)
class PageFile:
    """One file, ready to be sent.

    Attributes:
        stamp: Modification time and size when it was read; another stamp means other content.
        packed: The content compressed; None where that spares nothing.
    """

    stamp: tuple[int, int]
    content: bytes
    packed: bytes | None
    media_type: str
    tag: str

    def sent(self, *, packed: bool) -> tuple[bytes, str]:
        """Content and tag; the compressed form is another representation with its own."""
        if packed and self.packed is not None:
            return self.packed, f"{self.tag}-gzip"
        return self.content, self.tag


class Page:
    """The files of the page's folder; safe to use from several threads.

    A file that changed on disk is read again, so that a developer only has to reload the
    page. A file that is added is found at the next start.
    """

    def __init__(self, folder: Path) -> None:
        """Find the files.

        Raises:
            SettingInvalid: The folder has no front page.
        """
        self._folder = folder
        self._lock = Lock()
        self._kept: dict[str, PageFile] = {}
        self.names = frozenset(_names(folder))
        self.languages = _languages(self.names)
        if FRONT not in self.names:
            message = f"RICALCO_PAGE_DIR is {folder}, and there is no {FRONT} in it."
            raise SettingInvalid(message, field="RICALCO_PAGE_DIR")

    def file(self, name: str) -> PageFile:
        """One of `names`.

        Raises:
            NotFound: It is not among them, or was deleted since.
        """
        if name not in self.names:
            raise NotFound("There is no such file.")
        path = self._folder / name
        try:
            found = path.stat()
            with self._lock:
                kept = self._kept.get(name)
                if kept is None or kept.stamp != (found.st_mtime_ns, found.st_size):
                    kept = self._kept[name] = _read(path, found)
                return kept
        except OSError as error:
            raise NotFound("There is no such file.") from error

    def answer(self, name: str) -> Response:
        """The response to a request for one of `names`."""
        return _answer(name, self.file(name))


def _names(folder: Path) -> list[str]:
    """Paths below the folder, with slashes; nothing hidden."""
    names = []
    for place, folders, files in os.walk(folder):
        folders[:] = [one for one in folders if not one.startswith((".", "__"))]
        below = Path(place).relative_to(folder)
        known = (one for one in files if Path(one).suffix in TYPES and not one.startswith("."))
        names += [(below / one).as_posix() for one in known]
    return names


def _languages(names: frozenset[str]) -> list[str]:
    """Tags of the languages that there are texts in: the names of their folders."""
    texts = (name.split("/") for name in names if name.startswith(f"{WORDS}/"))
    return sorted({parts[1] for parts in texts if len(parts) > 2})  # noqa: PLR2004 - folder, language, file.


def _read(path: Path, found: os.stat_result) -> PageFile:
    content = path.read_bytes()
    packed = None if path.suffix in _DENSE else gzip.compress(content, 9, mtime=0)
    return PageFile(
        stamp=(found.st_mtime_ns, found.st_size),
        content=content,
        packed=packed if packed and len(packed) < len(content) else None,
        media_type=TYPES[path.suffix],
        tag=hashlib.sha256(content).hexdigest()[:32],
    )


def serve_page(app: Flask, settings: Settings) -> Page | None:
    """Serve the page at `/`, where the settings name its folder.

    Raises:
        SettingInvalid: The folder has no front page.
    """
    if settings.page_dir is None:
        return None
    page = Page(settings.page_dir)
    app.url_map.converters["page_file"] = _one_of(page.names)

    def show(name: str = FRONT) -> Response:
        return page.answer(name)

    def show_list() -> Response:
        """The files that the page caches for use without a network."""
        files = [f"/{name}" for name in sorted(page.names - {FRONT, WORKER})]
        return jsonify(files=[*files, LANGUAGES])

    def show_languages() -> Response:
        """The languages that the page can be shown in."""
        return jsonify(page.languages)

    app.add_url_rule("/", endpoint="page", view_func=show)
    app.add_url_rule("/files.json", endpoint="page_list", view_func=show_list)
    app.add_url_rule(LANGUAGES, endpoint="page_languages", view_func=show_languages)
    app.add_url_rule("/<page_file:name>", endpoint="page_file", view_func=show)
    return page


def _one_of(names: frozenset[str]) -> type[BaseConverter]:
    """A URL converter that matches these paths only; any other path gets 404."""

    class KnownFile(BaseConverter):
        regex = "|".join(re.escape(name) for name in sorted(names))
        part_isolating = False

    return KnownFile


def _answer(name: str, file: PageFile) -> Response:
    """The file, or 304 where the browser has it already.

    werkzeug's `make_conditional` would also answer `If-Match`, with a 412 that is no problem
    document (RFC 9457).
    """
    body, tag = file.sent(packed=request.accept_encodings["gzip"] > 0)
    same = request.if_none_match.contains_weak(tag)
    response = Response(status=HTTPStatus.NOT_MODIFIED if same else HTTPStatus.OK)
    if not same:
        response.data = body
        response.content_type = file.media_type
        if body is not file.content:
            response.headers["Content-Encoding"] = "gzip"
    response.set_etag(tag)
    response.headers["Vary"] = "Accept-Encoding"
    response.headers["Cache-Control"] = _A_DAY if Path(name).suffix in _DENSE else _ASK_FIRST
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    if name == WORKER:
        # Its scope is the whole page, whichever folder it is served from.
        response.headers["Service-Worker-Allowed"] = "/"
    return response
