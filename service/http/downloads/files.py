"""Files as answers: entity tags, ranges, conditions, names (RFC 9110, RFC 6266).

The file is held open until the last byte has gone, and with it whatever lends it: a
storage that had to fetch it, or the temporary folder it was made in.
"""

from __future__ import annotations

import hashlib
import io
import os
from contextlib import ExitStack
from http import HTTPStatus
from pathlib import Path

from flask import Response, request
from werkzeug.exceptions import RequestedRangeNotSatisfiable
from werkzeug.http import parse_range_header
from werkzeug.wsgi import wrap_file

from service.http.downloads.content_disposition import content_disposition
from service.http.downloads.digests import Digests
from worker.errors import NotFound

#: Kept by the browser, but asked about again each time: a deleted pack is gone at once.
CACHE_CONTROL = "private, no-cache"
#: What is ever sent; the system's own table differs from machine to machine.
TYPES = {".pdf": "application/pdf", ".png": "image/png", ".jpg": "image/jpeg"}


class HeldFile(io.FileIO):
    """A file that gives back what lent it when it is closed."""

    def __init__(self, path: Path, lent: ExitStack) -> None:
        self._lent = lent
        super().__init__(path, "rb")

    def close(self) -> None:
        """Close the file, then let go of its lender."""
        super().close()
        self._lent.close()


def etag(*parts: str) -> str:
    """A strong tag: equal parts mean equal bytes."""
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]


def fresh_in_cache(tag: str) -> bool:
    """Whether the caller has these bytes already, so that making them can be spared."""
    # The weak comparison (RFC 9110, 13.1.2): proxies that compress weaken tags.
    return request.if_none_match.contains_weak(tag)


def not_modified(tag: str) -> Response:
    """You have it already."""
    response = Response(status=HTTPStatus.NOT_MODIFIED)
    response.set_etag(tag)
    response.headers["Cache-Control"] = CACHE_CONTROL
    return response


def send(path: Path, lent: ExitStack, *, name: str, tag: str, digests: Digests) -> Response:
    """Answer with a file.

    Args:
        path: The file.
        lent: Closed when the file has been sent.
        name: What the download should be called.
        tag: Its entity tag.
        digests: Knows checksums.

    Raises:
        NotFound: It was deleted a moment ago.
    """
    with ExitStack() as failing:
        failing.push(lent)
        file = _opened(path, lent)
        failing.callback(file.close)
        # Both are asked of the open file: its name may be gone by now.
        size, digest = os.fstat(file.fileno()).st_size, digests.of(file, tag)
        failing.pop_all()
    response = Response(
        wrap_file(request.environ, file),
        direct_passthrough=True,
        content_type=TYPES[path.suffix],
    )
    response.content_length = size
    response.set_etag(tag)
    response.headers["Repr-Digest"] = digest
    response.headers["Cache-Control"] = CACHE_CONTROL
    response.headers["Content-Disposition"] = content_disposition(name)
    return _conditional(response, file, size)


def _opened(path: Path, lent: ExitStack) -> HeldFile:
    try:
        return HeldFile(path, lent)
    except FileNotFoundError as error:
        raise NotFound("There is no such file.") from error


def _conditional(response: Response, file: HeldFile, size: int) -> Response:
    """Answer to conditions and to one range; several ranges are ignored, as RFC 9110 allows."""
    environ = dict(request.environ)
    ranges = parse_range_header(environ.get("HTTP_RANGE"))
    if ranges is None or ranges.units != "bytes" or len(ranges.ranges) != 1:
        environ.pop("HTTP_RANGE", None)
    try:
        response.make_conditional(environ, accept_ranges=True, complete_length=size)
    except RequestedRangeNotSatisfiable:
        file.close()
        raise
    if response.status_code == HTTPStatus.NOT_MODIFIED or request.method == "HEAD":
        file.close()
        response.response = ()
        response.direct_passthrough = False
    return response
