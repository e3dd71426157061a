"""Files appear whole or not at all.

Half a pack prints as half a picture, and nothing on paper says so. So whatever is written
goes to a temporary name in the same folder, and takes its own name when it is complete.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


def _usual_mode() -> int:
    """The mode that a newly made file has, by this process's umask."""
    umask = os.umask(0)
    os.umask(umask)
    return 0o666 & ~umask


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """A file to write that takes the name `path` only when the block ends well.

    Raises:
        OSError: When the folder cannot be written; nothing is left behind.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes files that only their owner reads; a pack is shared like any file.
        Path(name).chmod(_usual_mode())
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
