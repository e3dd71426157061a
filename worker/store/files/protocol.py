"""What every kind of storage promises; one suite of tests holds them all to it.

A key is a path of at least two parts, `references/<id>` or `packs/<id>/<attempt>`; a
file's key has the file's name at its end. Storage knows nothing of what the files mean.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Protocol

from worker.errors import NotFound

_PART = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,127}")


class Storage(Protocol):
    """Where master, study and packs are kept."""

    def workspace(self) -> AbstractContextManager[Path]:
        """A fresh folder on this machine to work in; removed at the end, come what may.

        Raises:
            FolderNotWritable: It cannot be made.
            StorageFull: It cannot be made, or the disk ran full while it was used.
        """

    def publish(self, folder: Path, key: str) -> None:
        """Keep the files of a folder (not its subfolders) under a key.

        Each file appears whole or not at all, and stays after a power cut once this
        returns. What is left in `folder` afterwards is undefined.

        Raises:
            FolderNotWritable: Storage cannot be written.
            StorageFull: It is full; nothing appeared.
            ValueError: The key is malformed.
        """

    def file(self, key: str) -> AbstractContextManager[Path]:
        """A path on this machine to read one file at, as long as the context lasts.

        Raises:
            NotFound: There is no such file.
        """

    def delete(self, key: str) -> None:
        """Delete a file, or all below a key; nothing happens where there is nothing."""

    def keys(self, prefix: str) -> Iterator[str]:
        """The keys right below a prefix, in order; none where there is nothing."""

    def age_s(self, key: str) -> float:
        """How long ago this appeared, in seconds; 0 where there is nothing."""

    def tidy(self) -> int:
        """Remove workspaces whose process died; returns how many."""

    def check_room(self) -> None:
        """See, without writing, that there is room to begin something new.

        Raises:
            StorageFull: It is full, or nearly.
        """

    def close_to_others(self) -> None:
        """Let nobody else read what is kept, also what was kept before."""

    def check(self) -> None:
        """Write and remove a small file.

        Raises:
            FolderNotWritable: Storage cannot be written.
            StorageFull: It is full, or nearly.
        """


def key_parts(key: str) -> tuple[str, ...]:
    """The parts of a well-formed key.

    Raises:
        ValueError: A part is empty, hidden, or has letters that some file system takes
            amiss.
    """
    parts = tuple(key.split("/"))
    if not all(_PART.fullmatch(part) for part in parts):
        message = f"{key!r} is no storage key."
        raise ValueError(message)
    return parts


def requested_parts(key: str) -> tuple[str, ...]:
    """The same for a key that someone asked for: a malformed one names nothing."""
    try:
        return key_parts(key)
    except ValueError:
        raise NotFound("There is no such file.") from None
