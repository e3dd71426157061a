"""Checksums of files, by which a client can detect a damaged download (RFC 9530).

Computing one for each download would take longer than sending the file, so the checksums of
the last files are cached by entity tag; a file never changes under its tag.
"""

from __future__ import annotations

import base64
import hashlib
from collections import OrderedDict
from io import FileIO
from threading import Lock

KEPT = 1000


class Digests:
    """Checksums by entity tag; safe to use from several threads."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: OrderedDict[str, str] = OrderedDict()

    def of(self, file: FileIO, tag: str) -> str:
        """The value of `Repr-Digest` for an open file that is known by this tag."""
        with self._lock:
            if tag in self._kept:
                return self._kept[tag]
        digest = hashlib.file_digest(file, "sha256").digest()
        file.seek(0)
        value = f"sha-256=:{base64.b64encode(digest).decode()}:"
        with self._lock:
            self._kept[tag] = value
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return value
