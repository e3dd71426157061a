"""A photo as a multipart body (RFC 7578) that is streamed from its file.

requests builds a whole multipart body in memory. A photo may have 40 MB, so it is read from
its file while it is sent. The length is known beforehand and sent as Content-Length, which
every server and proxy accepts.
"""

from __future__ import annotations

import io
import os
import secrets
from collections.abc import Iterator
from typing import BinaryIO

FIELD = "file"
BLOCK_BYTES = 64 * 1024


def _quoted(name: str) -> str:
    """A file name inside quotes, as the HTML standard writes it in form data."""
    return name.replace('"', "%22").replace("\r", "%0D").replace("\n", "%0A")


class PhotoBody:
    """A request body with one file; `rewind` lets it be sent again.

    Attributes:
        content_type: Value of the Content-Type header.
    """

    def __init__(self, file: BinaryIO, name: str) -> None:
        boundary = secrets.token_hex(16)
        self.content_type = f"multipart/form-data; boundary={boundary}"
        head = (
            f"--{boundary}\r\n"
            f'Content-Disposition: form-data; name="{FIELD}"; filename="{_quoted(name)}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n"
        )
        ends = (head.encode(), f"\r\n--{boundary}--\r\n".encode())
        self._start = file.tell()
        size = file.seek(0, os.SEEK_END) - self._start
        self._length = len(ends[0]) + size + len(ends[1])
        self._file = file
        self._parts: tuple[BinaryIO, ...] = (io.BytesIO(ends[0]), file, io.BytesIO(ends[1]))
        self.rewind()

    def __len__(self) -> int:
        return self._length

    def __iter__(self) -> Iterator[bytes]:
        while block := self.read(BLOCK_BYTES):
            yield block

    def rewind(self) -> None:
        """Go back to the beginning, for another attempt."""
        for part in self._parts:
            part.seek(self._start if part is self._file else 0)

    def read(self, size: int = -1) -> bytes:
        """Up to `size` bytes: fewer at the end of a part, none at the end of the body."""
        if size < 0:
            return b"".join(part.read() for part in self._parts)
        for part in self._parts:
            block = part.read(size)
            if block:
                return block
        return b""
