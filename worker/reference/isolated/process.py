"""One child process that takes photos in, as its parent sees it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any, BinaryIO, cast

from worker.reference.isolated.wire import PeerGone, copy_bytes, receive_message, send_message

_MODULE = "worker.reference.isolated.child"
#: Of the environment it gets what Python and the system need, and no setting of ours: a ledger's
#: address may hold a password.
_KEPT = ("PATH", "LANG", "LC_ALL", "SYSTEMROOT", "WINDIR", "TEMP", "TMP", "LD_LIBRARY_PATH")
#: Libraries shall start no threads of their own, and the C library no heaps for each of ours.
_QUIET = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MALLOC_ARENA_MAX": "2"}
#: How long a new process may take to load its libraries, on a machine that is busy.
START_WITHIN_S = 120.0


class ProcessEnded(Exception):
    """The process ended before it answered.

    Attributes:
        slow: It had used up its time.
        crashed: A fault in its own code; if neither, it was ended from outside.
    """

    def __init__(self, *, slow: bool, crashed: bool) -> None:
        super().__init__()
        self.slow, self.crashed = slow, crashed


class PhotoProcess:
    """A process that answers one question at a time."""

    def __init__(self) -> None:
        """Start it; it loads its libraries while this one goes on."""
        self.photos = 0
        self._ready = False
        self._late = threading.Event()
        self._process = subprocess.Popen(  # noqa: S603 - our own interpreter and module.
            [sys.executable, "-m", _MODULE],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=_environment(),
            start_new_session=os.name == "posix",
        )
        self._questions = cast("BinaryIO", self._process.stdin)
        self._answers = cast("BinaryIO", self._process.stdout)

    @property
    def pid(self) -> int:
        """Its process number."""
        return self._process.pid

    @property
    def alive(self) -> bool:
        """Whether it has not ended."""
        return self._process.poll() is None

    def ask(self, question: dict[str, Any], photo: BinaryIO, within_s: float) -> dict[str, Any]:
        """Its answer to a question about a photo; `question["bytes"]` is the photo's length.

        Raises:
            ProcessEnded: There is none.
        """
        if not self._ready:
            self._heard(START_WITHIN_S)
            self._ready = True
        self.photos += 1
        return self._heard(within_s, question, photo)

    def _heard(
        self, within_s: float, question: dict[str, Any] | None = None, photo: BinaryIO | None = None
    ) -> dict[str, Any]:
        clock = threading.Timer(within_s, self._end_late)
        clock.daemon = True
        clock.start()
        try:
            if question is not None and photo is not None:
                send_message(self._questions, question)
                copy_bytes(photo, self._questions, question["bytes"])
            return receive_message(self._answers)
        except (OSError, PeerGone) as error:
            self.end()
            raise self._ended() from error
        finally:
            clock.cancel()

    def _end_late(self) -> None:
        self._late.set()
        self._process.kill()

    def _ended(self) -> ProcessEnded:
        code = self._process.returncode
        slow = self._late.is_set() or code == -getattr(signal, "SIGXCPU", 0)
        # Killed by nobody but itself: its code ran into memory that it has not, and the like.
        crashed = code not in {0, -getattr(signal, "SIGKILL", 9), -signal.SIGTERM}
        return ProcessEnded(slow=slow, crashed=crashed)

    def end(self) -> None:
        """End it, whatever it does."""
        self._process.kill()
        self._process.wait()
        for line in (self._questions, self._answers):
            try:
                line.close()
            except OSError:
                # What was still to be written goes nowhere.
                continue


def _environment() -> dict[str, str]:
    kept = {name: os.environ[name] for name in _KEPT if name in os.environ}
    # The same modules as here, wherever this process found them.
    return {
        **kept,
        **_QUIET,
        "PYTHONPATH": os.pathsep.join(path or str(Path.cwd()) for path in sys.path),
    }
