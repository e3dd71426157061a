"""A child process of the supervisor: started, restarted, asked to stop.

Its standard input is a pipe that only the supervisor holds, and never writes to. Closing it
asks the child to stop; when the supervisor dies in any way, the system closes it. So no child
is left behind, on any system and without process groups.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import dataclass, field

#: A child that ran this long is healthy: it is restarted after the shortest pause.
HEALTHY_S = 30.0
FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
_WATCH = "--watch-parent"


@dataclass(kw_only=True)
class Child:
    """A process that is restarted whenever it ends.

    Attributes:
        module: The module that `python -m` runs.
        patience_s: How long it may take to stop.
    """

    name: str
    module: str
    patience_s: float
    environment: dict[str, str]
    process: subprocess.Popen[bytes] | None = None
    started_s: float = 0.0
    pause_s: float = 0.0
    again_at_s: float = field(default=0.0)

    def start(self) -> None:
        """Start it without the terminal's signals: only the supervisor receives Ctrl-C."""
        self.started_s = time.monotonic()
        self.process = subprocess.Popen(  # noqa: S603 -- Our own interpreter and module.
            [sys.executable, "-m", self.module, _WATCH],
            stdin=subprocess.PIPE,
            env=self.environment,
            start_new_session=os.name == "posix",
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )

    def ended(self) -> int | None:
        """Its exit code; None while it runs."""
        return self.process.poll() if self.process else None

    def again(self) -> None:
        """Restart it, after a pause that doubles while it keeps dying early."""
        now = time.monotonic()
        if self.process is not None:
            self._close_pipe()
            self.process = None
            healthy = now - self.started_s > HEALTHY_S
            self.pause_s = (
                FIRST_PAUSE_S
                if healthy
                else min(LONGEST_PAUSE_S, 2 * self.pause_s or FIRST_PAUSE_S)
            )
            self.again_at_s = now + self.pause_s
            say(f"The {self.name} process ended; it is started again in {self.pause_s:g} s.")
        elif now >= self.again_at_s:
            self.start()

    def ask_to_stop(self) -> None:
        """Close its pipe."""
        self._close_pipe()

    def wait(self) -> None:
        """Wait until it has stopped; kill it when it takes too long."""
        if self.process is None:
            return
        try:
            self.process.wait(self.patience_s)
        except subprocess.TimeoutExpired:
            say(f"The {self.name} process does not stop; it is ended.")
            self.process.kill()
            self.process.wait()

    def _close_pipe(self) -> None:
        if self.process is not None and self.process.stdin is not None:
            self.process.stdin.close()


def say(line: str) -> None:
    """Write a line to standard error for the person who started the service."""
    sys.stderr.write(f"{line}\n")
    sys.stderr.flush()
