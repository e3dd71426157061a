"""The protocol of storage; one suite of tests checks every implementation of it.

A key is a path of at least two parts, `references/<id>` or `packs/<id>/<attempt>`; a file's key
ends with the file's name. Storage does not depend on what the files contain.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from worker.errors import NotFound

#: What is written and read to find out whether that works.
PROBE = b"ricalco " * 512
_PART = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,127}")


#: How long a presigned address opens its file: time enough to follow a redirect.
PRESIGNED_S = 60


@dataclass(frozen=True, kw_only=True)
class ShownFile:
    """What an answer from elsewhere says about a file.

    Attributes:
        content_type: Its media type.
        disposition: The Content-Disposition with its name.
        caching: The Cache-Control.
    """

    content_type: str
    disposition: str
    caching: str


class Storage(Protocol):
    """Keeps the files of references (master, study, preview) and of packs."""

    def workspace(self) -> AbstractContextManager[Path]:
        """A new folder on this machine to work in; removed at the end in any case.

        Raises:
            FolderNotWritable: It cannot be made.
            StorageFull: It cannot be made, or the disk ran full while it was used.
        """

    def publish(self, folder: Path, key: str) -> None:
        """Store the files of a folder (not its subfolders) under a key.

        Each file appears complete or not at all, and survives a power cut once this returns.
        The contents of `folder` are undefined afterwards.

        Raises:
            FolderNotWritable: Storage cannot be written.
            StorageFull: It is full; nothing appeared.
            ValueError: The key is malformed.
        """

    def file(self, key: str) -> AbstractContextManager[Path]:
        """A path on this machine where one file can be read while the context lasts.

        Raises:
            NotFound: There is no such file.
        """

    def holds(self, key: str) -> bool:
        """Whether there is such a file; nothing is read.

        Raises:
            NotFound: The key is malformed.
        """

    def presigned(self, key: str, shown: ShownFile, *, outside: bool) -> str | None:
        """An address that opens one file without a key for a minute; None: there is no such.

        It goes with the file: once that is deleted it opens nothing. Whoever has it can read the
        file, so it belongs into no log.

        Args:
            key: The file's; whether it exists is not looked at.
            shown: What the answer says about the file.
            outside: For people's browsers and not for a program beside the service.

        Raises:
            NotFound: The key is malformed.
        """

    def delete(self, key: str) -> None:
        """Delete a file, or all below a key; no error where nothing exists."""

    def keys(self, prefix: str) -> Iterator[str]:
        """The keys directly below a prefix, in order; none where nothing exists."""

    def age_s(self, key: str) -> float:
        """How long ago this was published, in seconds; 0 where nothing exists."""

    def tidy(self) -> int:
        """Remove workspaces whose process died; returns how many."""

    def check_room(self) -> None:
        """Check, without writing, that there is room for something new.

        Raises:
            StorageFull: It is full, or nearly.
            StorageUnavailable: It cannot be reached.
        """

    def close_to_others(self) -> None:
        """Remove other users' permissions from everything that is stored."""

    def check(self) -> None:
        """Write, read and remove a small file.

        Raises:
            FolderNotWritable: Storage cannot be written.
            StorageFull: It is full, or nearly.
            StorageUnavailable: It cannot be reached, or gives back something else.
        """


def key_parts(key: str) -> tuple[str, ...]:
    """The parts of a well-formed key.

    Raises:
        ValueError: A part is empty, hidden, or has letters that some file systems refuse.
    """
    parts = tuple(key.split("/"))
    if not all(_PART.fullmatch(part) for part in parts):
        message = f"{key!r} is no storage key."
        raise ValueError(message)
    return parts


def requested_parts(key: str) -> tuple[str, ...]:
    """The same for a key that came with a request.

    Raises:
        NotFound: It is malformed, and so names no file.
    """
    try:
        return key_parts(key)
    except ValueError:
        raise NotFound("There is no such file.") from None
