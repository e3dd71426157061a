"""A ZIP archive that is made while it is sent, with no copy of it anywhere.

Sizes and checksums follow each file's data (APPNOTE.TXT 6.3, 4.4.4 bit 3), since nothing
already sent can be mended. PDFs and PNGs are stored as they are: they would not shrink.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import IO

BLOCK_BYTES = 1 << 18
#: The oldest date that a ZIP entry can have.
_FIRST_YEAR = 1980
#: Read by everyone, written by their owner (APPNOTE.TXT 4.4.15: the upper half is Unix's).
_MODE = 0o644 << 16


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A file of the archive: its name inside, and its content.

    A file must be open: then it can be read to its end even if it is deleted meanwhile. An
    entry that has begun cannot be withdrawn.
    """

    name: str
    content: IO[bytes] | bytes


class _Sink:
    """A file that can only be appended to; what is written is taken out block by block."""

    def __init__(self) -> None:
        self._waiting: list[bytes] = []

    def write(self, data: bytes) -> int:
        """Append a block."""
        self._waiting.append(bytes(data))
        return len(data)

    def flush(self) -> None:
        """Nothing is buffered elsewhere."""

    def sent(self) -> bytes:
        """Remove and return what was written since the last call."""
        block = b"".join(self._waiting)
        self._waiting.clear()
        return block


def stream_archive(entries: Iterable[Entry], *, made_at: float) -> Iterator[bytes]:
    """The archive block by block.

    Args:
        entries: The files in their order; each is read once those before it are sent.
        made_at: The date of all entries, in seconds since 1970.

    Raises:
        OSError: A file cannot be read.
    """
    sink = _Sink()
    # It needs nothing but write and flush, which its types do not say.
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_STORED) as archive:  # type: ignore[call-overload]
        for entry in entries:
            for _ in _write(archive, entry, made_at):
                yield sink.sent()
    yield sink.sent()


def _write(archive: zipfile.ZipFile, entry: Entry, made_at: float) -> Iterator[None]:
    """Write an entry, with a pause after each block."""
    moment = datetime.fromtimestamp(made_at, UTC)
    date = (max(moment.year, _FIRST_YEAR), *moment.timetuple()[1:6])
    about = zipfile.ZipInfo(entry.name, date)
    about.external_attr = _MODE
    content = entry.content
    about.file_size = len(content) if isinstance(content, bytes) else content.seek(0, 2)
    with archive.open(about, "w") as target:
        for block in _blocks(content):
            target.write(block)
            yield
    yield


def _blocks(content: IO[bytes] | bytes) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    content.seek(0)
    while block := content.read(BLOCK_BYTES):
        yield block
