"""Which processes a reload replaces, so that old ones answer until a new one can.

gunicorn starts the new processes and asks the old ones to stop at the same moment, while loading
takes some seconds: for so long nobody would be answered. So what a reload replaces stops once one
of the new ones is ready. Both are told by their age, which gunicorn counts.
"""

from __future__ import annotations

import mmap
import struct

_TWO = struct.Struct("=qq")


class Replacement:
    """Two numbers in memory that all processes share, since it is made before they are forked."""

    def __init__(self) -> None:
        self._shared = mmap.mmap(-1, _TWO.size)

    def begin(self, newest: int) -> None:
        """Note that all processes up to this age are being replaced."""
        _TWO.pack_into(self._shared, 0, newest, self._read()[1])

    def ready(self, age: int) -> None:
        """Note that a process of this age answers."""
        replaced, newest_ready = self._read()
        _TWO.pack_into(self._shared, 0, replaced, max(newest_ready, age))

    def lasts(self, age: int) -> bool:
        """Whether a process of this age is being replaced, and none that is newer answers yet."""
        replaced, newest_ready = self._read()
        return age <= replaced and newest_ready <= replaced

    def _read(self) -> tuple[int, int]:
        replaced, newest_ready = _TWO.unpack_from(self._shared)
        return int(replaced), int(newest_ready)


#: Of this gunicorn.
REPLACEMENT = Replacement()
