"""Atomic writes: a file appears whole or not at all.

Half a pack would print as half a picture without a sign of it. So a file is written under a
temporary name in the same folder, and renamed when it is complete.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


@contextmanager
def atomic_file(path: Path) -> Iterator[BinaryIO]:
    """A file to write that gets the name `path` only when the block ends without an error.

    Raises:
        OSError: When the folder cannot be written; nothing is left behind.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name[:40]}.{secrets.token_hex(8)}.part")
    try:
        # mkstemp would ignore the umask, and let the owner alone read the pack.
        with part.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
