"""Files as responses: entity tags, ranges, conditions, names (RFC 9110, RFC 6266).

The file stays open until its last byte is sent, and so do the resources that it needs: a
storage that had to fetch it, or the temporary folder that it was made in. werkzeug handles
tags, conditions and ranges. Its `send_file` is not used: it sends no length for an open
file, opens a path without those resources, and lets public caches keep the response.
"""

from __future__ import annotations

import hashlib
import io
import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from http import HTTPStatus
from pathlib import Path

from flask import Response, request
from werkzeug.exceptions import RequestedRangeNotSatisfiable
from werkzeug.http import parse_range_header
from werkzeug.wsgi import wrap_file

from service.http.answers.downloads.content_disposition import content_disposition
from service.http.answers.downloads.digests import Digests
from worker.errors import NotFound

#: The browser keeps the file but revalidates it each time: a deleted pack is gone at once.
CACHE_CONTROL = "private, no-cache"
#: Media types by file extension; the system's own table differs between machines.
TYPES = {".pdf": "application/pdf", ".png": "image/png", ".jpg": "image/jpeg"}


class HeldFile(io.FileIO):
    """A file that closes the resources it needs together with itself."""

    def __init__(self, path: Path, resources: ExitStack) -> None:
        self._resources = resources
        super().__init__(path, "rb")

    def close(self) -> None:
        """Close the file, then its resources."""
        super().close()
        self._resources.close()


def etag(*parts: str) -> str:
    """A strong tag: equal parts mean equal bytes."""
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]


def fresh_in_cache(tag: str) -> bool:
    """Whether the client has these bytes already, so that they need not be made."""
    # The weak comparison (RFC 9110, 13.1.2): proxies that compress weaken tags.
    return request.if_none_match.contains_weak(tag)


def not_modified(tag: str) -> Response:
    """The response 304: the client has these bytes already."""
    response = Response(status=HTTPStatus.NOT_MODIFIED)
    response.set_etag(tag)
    response.headers["Cache-Control"] = CACHE_CONTROL
    return response


def send(path: Path, resources: ExitStack, *, name: str, tag: str, digests: Digests) -> Response:
    """A response with a file, or a part of it, as the request's conditions say.

    Args:
        path: The file.
        resources: What the file needs; closed when it has been sent.
        name: The file name of the download.
        tag: Its entity tag.
        digests: Checksums of files by their tags.

    Raises:
        NotFound: It was deleted a moment ago.
    """
    with ExitStack() as failing:
        failing.push(resources)
        file = _opened(path, resources)
        failing.callback(file.close)
        # Both are read from the open file: its path may be deleted by now.
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


class MadeWhileSent(Iterator[bytes]):
    """Content of known length that is made while it is sent, from any place on.

    werkzeug seeks in it as in a file. Where what it is made of is deleted meanwhile, it ends
    before its length: the server closes the connection, and the client notices.

    Args:
        length: Its length in bytes.
        blocks: Makes it from a byte on.
        resources: What it needs; closed at the end.
    """

    def __init__(
        self, length: int, blocks: Callable[[int], Iterator[bytes]], resources: ExitStack
    ) -> None:
        self.length = length
        self._make = blocks
        self._resources = resources
        self._place = 0
        self._left: Iterator[bytes] | None = None

    def seekable(self) -> bool:
        """Whether it can begin anywhere."""
        return True

    def seek(self, place: int) -> None:
        """Go on from this byte."""
        self._place, self._left = place, None

    def tell(self) -> int:
        """The byte that comes next."""
        return self._place

    def __next__(self) -> bytes:
        """The next block."""
        if self._left is None:
            self._left = self._make(self._place)
        try:
            block = next(self._left)
        except (NotFound, FileNotFoundError):
            raise StopIteration from None
        self._place += len(block)
        return block

    def close(self) -> None:
        """Close what it is made of."""
        self._left = None
        self._resources.close()


def send_made(content: MadeWhileSent, *, content_type: str, name: str, tag: str) -> Response:
    """A response with such content, or a part of it, as the request's conditions say."""
    response = Response(content, direct_passthrough=True, content_type=content_type)
    response.content_length = content.length
    response.set_etag(tag)
    response.headers["Cache-Control"] = CACHE_CONTROL
    response.headers["Content-Disposition"] = content_disposition(name)
    return _conditional(response, content, content.length)


def _opened(path: Path, resources: ExitStack) -> HeldFile:
    try:
        return HeldFile(path, resources)
    except FileNotFoundError as error:
        raise NotFound("There is no such file.") from error


def _conditional(response: Response, file: HeldFile | MadeWhileSent, size: int) -> Response:
    """Apply conditions and one range. Several ranges are ignored, as RFC 9110, 14.2 allows."""
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
