"""Nobody outlives whom it works for, and nobody stops for ever.

The supervisor holds the other end of the standard input of web and worker: however the
supervisor dies, that end closes, and closing it is also how it asks them to stop. The children
of a pool watch their parent's process number. These work on every system and against kill -9,
where signals do not.
"""

from __future__ import annotations

import logging
import os
import threading
import time
from collections.abc import Callable

_LOG = logging.getLogger(__name__)
_LOOK_S = 0.5
#: Supervisors and service managers kill after a minute.
STOP_WITHIN_S = 55.0
EXIT_KILLED = 75


def when_input_closes(act: Callable[[], None]) -> None:
    """Call `act` once, from another thread, when standard input has come to its end."""

    def watch() -> None:
        # The file object's lock would be held for ever in a forked child, and at the end.
        while os.read(0, 1024):
            pass
        _LOG.info("Whoever started this process is gone, or asks it to stop.")
        act()

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def end_with_parent() -> None:
    """End this process, without any more writing, when its parent is gone."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOK_S)
        os._exit(EXIT_KILLED)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def end_within(seconds: float = STOP_WITHIN_S) -> None:
    """End this process after a time, whatever hangs; leases save what it made."""
    timer = threading.Timer(seconds, os._exit, args=(EXIT_KILLED,))
    timer.daemon = True
    timer.start()
