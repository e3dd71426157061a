"""One program of the arrangement: started, watched, asked to stop, killed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

#: A part that has not come by then does not come; a busy machine is slow.
START_WITHIN_S = 180.0
LOOK_EVERY_S = 0.05
_TAIL_BYTES = 2000


class PartFailed(Exception):
    """A part does not start; the message ends with what it last wrote."""


@dataclass(kw_only=True)
class Part:
    """A program.

    Attributes:
        name: What it is called; its log is `log`.
        command: What is run.
        log: Takes what it writes, and is appended to.
        ready: Whether it can be used; an OSError means not yet.
        environment: Its variables besides PATH and the like.
        account: The account that it is run as; None: this process's own.
        stop_with: The signal that asks it to stop.
        patience_s: How long it may take to.
        process: It, once it was started.
        begun_at: Where in its log it began.
    """

    name: str
    command: list[str]
    log: Path
    ready: Callable[[], bool]
    environment: Mapping[str, str] = field(default_factory=dict)
    account: str | None = None
    stop_with: int = signal.SIGTERM
    patience_s: float = 30.0
    process: subprocess.Popen[bytes] | None = None
    begun_at: int = 0

    def start(self) -> None:
        """Start it, without waiting."""
        as_account: dict[str, Any] = {}
        if self.account is not None:
            as_account = {"user": self.account, "group": self.account, "extra_groups": []}
        with self.log.open("ab") as output:
            self.begun_at = output.tell()
            self.process = subprocess.Popen(  # noqa: S603 -- Commands of this package.
                self.command,
                cwd=self.log.parent,
                env={**_kept_environment(), **self.environment},
                stdin=subprocess.DEVNULL,
                stdout=output,
                stderr=subprocess.STDOUT,
                # A terminal's Ctrl-C reaches the arrangement alone, which stops its parts in order.
                start_new_session=True,
                **as_account,
            )

    def wait_ready(self, within_s: float = START_WITHIN_S) -> None:
        """Wait until it can be used.

        Raises:
            PartFailed: It has ended, or takes too long.
        """
        until = time.monotonic() + within_s
        while not self.is_ready():
            if not self.alive or time.monotonic() > until:
                message = f"{self.name} does not start:\n{self.last_lines()}"
                raise PartFailed(message)
            time.sleep(LOOK_EVERY_S)

    def is_ready(self) -> bool:
        """Whether it can be used now."""
        try:
            return self.alive and self.ready()
        except OSError:
            return False

    @property
    def alive(self) -> bool:
        """Whether it runs."""
        return self.process is not None and self.process.poll() is None

    @property
    def pid(self) -> int | None:
        """Its process number while it runs."""
        return self.process.pid if self.process is not None and self.alive else None

    def send(self, number: int) -> None:
        """Send a signal to this one process."""
        if self.process is not None:
            self.process.send_signal(number)

    def ask_to_stop(self) -> None:
        """Ask it to stop."""
        self.send(self.stop_with)

    def wait_stopped(self) -> None:
        """Wait until it has stopped; what does not in time is killed."""
        if self.process is None:
            return
        try:
            self.process.wait(self.patience_s)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()

    def written(self) -> str:
        """What it wrote since it was last started."""
        return self.log.read_bytes()[self.begun_at :].decode(errors="replace")

    def last_lines(self) -> str:
        """The end of what it wrote."""
        written = self.log.read_bytes() if self.log.exists() else b""
        return written[-_TAIL_BYTES:].decode(errors="replace")


def _kept_environment() -> dict[str, str]:
    """This environment without settings of Ricalco, and with no others' login for buckets."""
    ours = ("RICALCO_", "AWS_")
    return {name: value for name, value in os.environ.items() if not name.startswith(ours)}


def free_port() -> int:
    """A port that nothing listens on just now."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


def answers(port: int, question: bytes = b"", begin: bytes = b"") -> bool:
    """Whether something listens there, and answers a question with these bytes.

    Raises:
        OSError: It does not, yet.
    """
    with socket.create_connection(("127.0.0.1", port), timeout=5) as connection:
        if not question:
            return True
        connection.sendall(question)
        return connection.recv(max(len(begin), 1)).startswith(begin)
