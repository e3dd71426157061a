"""Ending with the parent: a child that outlives its supervisor would keep the port.

The supervisor holds the writing end of the child's standard input and never writes. When
it dies, however it dies, the system closes that end, and the child reads the end of the
file. It works the same on every system, and closing the pipe is also how a child is asked
to stop.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable


def when_parent_ends(stop: Callable[[], None]) -> None:
    """Call `stop` once, from another thread, when standard input comes to its end."""

    def watch() -> None:
        # Unbuffered: a thread that waits inside sys.stdin would hold its lock at exit.
        while os.read(sys.stdin.fileno(), 1024):
            pass
        stop()

    threading.Thread(target=watch, name="parent", daemon=True).start()
