"""Since when a worker is to end, as the processes that make its packs see it too.

A pack that is being made is finished if that takes no longer than `HAND_BACK_S`; then it is handed
back: it is queued again for another worker, and no attempt is counted. No new one is begun.
"""

from __future__ import annotations

import mmap
import struct
import time

#: Seconds from the request to end until a pack is handed back. The worker is ended
#: `worker.jobs.parent_watch.STOP_WITHIN_S` after that request in any case.
HAND_BACK_S = 40.0
_MOMENT = struct.Struct("=d")


class Draining:
    """A moment in memory that a pool's children share, since it is made before they are forked.

    It is told by a clock that all processes of a machine have in common (clock_gettime(2)).
    """

    def __init__(self) -> None:
        self._shared = mmap.mmap(-1, _MOMENT.size)

    def begin(self) -> None:
        """The worker is to end; safe in a signal handler. A second call does nothing."""
        if not self.begun:
            _MOMENT.pack_into(self._shared, 0, time.monotonic())

    @property
    def begun(self) -> bool:
        """Whether the worker is to end, and so begins no pack."""
        return self._since_s() > 0

    @property
    def over(self) -> bool:
        """Whether a pack that is being made still must be handed back now."""
        return self.begun and time.monotonic() - self._since_s() > HAND_BACK_S

    def _since_s(self) -> float:
        return float(_MOMENT.unpack_from(self._shared)[0])
