"""What one machine and many have in common: their ends, a small disk, and a clock to set."""

from __future__ import annotations

import random
import sys
from abc import ABC, abstractmethod
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import pytest

from tests.faults.parts import Clock, Part
from tests.faults.place import Fault, Place
from tests.small_disks import SmallDisk, small_disk
from worker.settings import Settings


class Machines(ABC):
    """Starts all of it; `place` is what the run is given."""

    place: Place

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._ending = ExitStack()
        self._left_out: list[str] = []
        self._clock = Clock(folder)
        self._disk: SmallDisk | None = None
        try:
            self._start()
        except BaseException:
            self._ending.close()
            raise

    @abstractmethod
    def _start(self) -> None:
        """Start the parts, and set `place`."""

    def _part(
        self, name: str, command: list[str], settings: Settings, env: dict[str, str] | None = None
    ) -> Part:
        """Start a part, which ends with the others."""
        log = self._folder / f"{name}.log"
        part = Part(name, [sys.executable, *command], {**settings.to_env(), **(env or {})}, log)
        self._ending.callback(part.end)
        return part

    @staticmethod
    def _log_of(part: Part) -> str:
        return part.log.read_text(encoding="utf-8", errors="replace")

    def _small_disk(self, name: str, megabytes: int) -> None:
        """Put a folder on a disk of its own, where this machine can make one."""
        try:
            self._disk = self._ending.enter_context(small_disk(self._folder / name, megabytes))
        except pytest.skip.Exception as reason:
            self._left_out.append(f"a full disk: {reason}")

    @contextmanager
    def _disk_full(self, _: random.Random) -> Iterator[None]:
        assert self._disk is not None
        with self._disk.filled():
            yield

    def _of_disk(self, *faults: Fault) -> list[Fault]:
        """These, where there is a small disk."""
        return [] if self._disk is None else list(faults)

    def _of_clock(self, *faults: Fault) -> list[Fault]:
        """These, where clocks can be set."""
        if self._clock.environment():
            return list(faults)
        self._left_out.append("clocks: there is no compiler of C (apt install gcc)")
        return []
