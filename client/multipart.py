"""A photo as one multipart part (RFC 7578), sent from the file and not from memory.

requests builds a multipart body in memory, whole. A photo of 40 MB on a phone or a small
server is better read from its file while it goes out; and since the length is known
beforehand, it goes out with Content-Length, which every server and proxy takes.
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
        content_type: The header that belongs to it.
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
        """Begin again."""
        for part in self._parts:
            part.seek(self._start if part is self._file else 0)

    def read(self, size: int = -1) -> bytes:
        """The next `size` bytes, fewer at a part's end, none at the end of all."""
        if size < 0:
            return b"".join(part.read() for part in self._parts)
        for part in self._parts:
            block = part.read(size)
            if block:
                return block
        return b""
