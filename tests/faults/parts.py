"""Programs that are kept running, as a service manager does, and what is done to them."""

from __future__ import annotations

import os
import shutil
import signal
import struct
import subprocess
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import psutil
import requests

from tests.waiting import HANG_S, wait_until

ROOT = Path(__file__).resolve().parents[2]
#: A service manager's pause before it starts a program again.
PAUSE_S = 0.5
_SOURCE = Path(__file__).with_name("set_clock.c")


class Clock:
    """The time of day that a program sees, which can be set while it runs (`set_clock.c`).

    Args:
        folder: Where its two files go.
    """

    def __init__(self, folder: Path) -> None:
        self._file, self._library = folder / "clock", folder / "set_clock.so"
        self._file.write_bytes(bytes(8))
        compiler = shutil.which("cc")
        if compiler is not None:
            command = [compiler, "-O2", "-shared", "-fPIC", "-o", self._library, _SOURCE, "-ldl"]
            subprocess.run(command, check=True)

    def set(self, ahead_s: int) -> None:
        """Set the time of day; the monotonic clock goes on as it did."""
        # A program has this file in its memory, so that it must not be replaced.
        with self._file.open("r+b") as file:
            file.write(struct.pack("=q", ahead_s))

    def environment(self) -> dict[str, str]:
        """What a program needs to see this clock; nothing without a compiler of C."""
        if not self._library.exists():
            return {}
        return {"LD_PRELOAD": str(self._library), "RICALCO_CLOCK_FILE": str(self._file)}


class Part:
    """A program that is started again whenever it ends.

    Args:
        name: For people.
        command: What is run.
        env: On top of this process's own environment.
        log: Where its error output goes.
    """

    def __init__(self, name: str, command: list[str], env: dict[str, str], log: Path) -> None:
        self.name = name
        self.log = log
        self._command, self._env = command, env
        self._over = threading.Event()
        self._process = self._start()
        self._keeper = threading.Thread(target=self._keep, daemon=True)
        self._keeper.start()

    def family(self) -> list[psutil.Process]:
        """The process and all that descend from it, but for those that have ended."""
        try:
            process = psutil.Process(self._process.pid)
            found = [process, *process.children(recursive=True)]
        except psutil.NoSuchProcess:
            return []
        return [one for one in found if one.is_running()]

    def children(self, naming: str = "") -> list[psutil.Process]:
        """Those that descend from it, and whose command names this."""
        return [one for one in self.family()[1:] if naming in _command_of(one)]

    def kill(self) -> None:
        """Kill -9 of the process alone; its children must cope, and it is started again."""
        self._process.kill()

    def end(self) -> None:
        """Ask it to end, and end all that is left of it."""
        self._over.set()
        self._keeper.join()
        family = self.family()
        resume(family)
        self._process.send_signal(signal.SIGTERM)
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(20)
        kill(family)
        self._process.wait(HANG_S)

    def _start(self) -> subprocess.Popen[bytes]:
        with self.log.open("ab") as log:
            return subprocess.Popen(
                self._command,
                cwd=ROOT,
                env={**os.environ, "PYTHONUNBUFFERED": "1", **self._env},
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=log,
            )

    def _keep(self) -> None:
        while not self._over.wait(0.1):
            if self._process.poll() is not None and not self._over.wait(PAUSE_S):
                self._process = self._start()


def kill(processes: Iterable[psutil.Process]) -> None:
    """Kill -9."""
    for process in processes:
        with suppress(psutil.NoSuchProcess):
            process.kill()


def resume(processes: Iterable[psutil.Process]) -> None:
    """SIGCONT."""
    for process in processes:
        with suppress(psutil.NoSuchProcess):
            process.resume()


@contextmanager
def stopped(processes: list[psutil.Process]) -> Iterator[None]:
    """SIGSTOP these meanwhile, the youngest first."""
    try:
        for process in reversed(processes):
            with suppress(psutil.NoSuchProcess):
                process.suspend()
        yield
    finally:
        resume(processes)


def answers(url: str) -> Callable[[], bool]:
    """Whether something answers there."""

    def asked() -> bool:
        try:
            return requests.get(url, timeout=2).status_code < requests.codes.server_error
        except requests.RequestException:
            return False

    return asked


def wait_for_log(part: Part, text: str) -> None:
    """Wait until the program has written this."""
    wait_until(lambda: text in part.log.read_text(encoding="utf-8", errors="replace"))


def wait_a_while(true: Callable[[], object], within_s: float) -> bool:
    """Wait; whether it came true."""
    deadline = time.monotonic() + within_s
    while not true():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.05)
    return True


def _command_of(process: psutil.Process) -> str:
    with suppress(psutil.Error):
        return " ".join(process.cmdline())
    return ""
