"""Ending a process when its parent ends, or when its own shutdown hangs.

The supervisor holds the other end of the standard input of web and worker. However the
supervisor dies, that end closes; closing it is also how the supervisor asks them to stop. The
children of a pool watch their parent's process number. Both work on every system and after
kill -9, which sends no signal to children.

The service imports this module as well, so it must load neither Celery nor the ledger.
"""

from __future__ import annotations

import logging
import os
import threading
import time
from collections.abc import Callable

_LOG = logging.getLogger(__name__)
_LOOK_S = 0.5
#: Service managers kill a process that has not stopped after a minute or so.
STOP_WITHIN_S = 55.0
EXIT_KILLED = 75


def when_input_closes(act: Callable[[], None]) -> None:
    """Call `act` once, from another thread, when standard input has come to its end."""

    def watch() -> None:
        # `sys.stdin` has a lock, which would stay held in a forked child and at exit.
        while os.read(0, 1024):
            pass
        _LOG.info("Whoever started this process is gone, or asks it to stop.")
        act()

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def end_with_parent() -> None:
    """End this process at once when its parent has ended; nothing more is written."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOK_S)
        os._exit(EXIT_KILLED)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def end_within(seconds: float = STOP_WITHIN_S) -> None:
    """End this process after a time even if it hangs; its packs are begun again by others."""
    timer = threading.Timer(seconds, os._exit, args=(EXIT_KILLED,))
    timer.daemon = True
    timer.start()
