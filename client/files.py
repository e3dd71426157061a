"""Files appear whole or not at all.

Half a pack prints as half a picture, and nothing on paper says so. So whatever is written
goes to a temporary name in the same folder, and takes its own name when it is complete.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """A file to write that takes the name `path` only when the block ends well.

    Raises:
        OSError: When the folder cannot be written; nothing is left behind.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name[:40]}.{secrets.token_hex(8)}.part")
    try:
        # Not mkstemp: a pack is read by whom any new file is read by, as the umask says.
        with part.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
