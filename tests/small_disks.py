"""A small disk of our own, to fill: a tmpfs where mounting is allowed."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest


class SmallDisk:
    """A file system of some megabytes at `path`."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._filler = path / "filler"

    @property
    def free(self) -> int:
        """Bytes."""
        return shutil.disk_usage(self.path).free

    def fill(self) -> None:
        """Leave not one byte free."""
        with self._filler.open("ab", buffering=0) as file:
            for size in (2**20, 4096, 1):
                with suppress(OSError):
                    while True:
                        file.write(b"\1" * size)
        assert self.free == 0

    def empty(self) -> None:
        """Give that room back."""
        self._filler.unlink()

    @contextmanager
    def filled(self) -> Iterator[None]:
        """Full while the block runs."""
        self.fill()
        try:
            yield
        finally:
            self.empty()


@contextmanager
def small_disk(path: Path, megabytes: int) -> Iterator[SmallDisk]:
    """Mount one; the test is skipped, with the reason, where that is not allowed."""
    path.mkdir(parents=True, exist_ok=True)
    mount = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "none", str(path)]
    told = subprocess.run(mount, capture_output=True, text=True, check=False)
    if told.returncode:
        pytest.skip(f"No disk can be mounted here (user {os.getuid()}): {told.stderr.strip()}")
    try:
        yield SmallDisk(path)
    finally:
        subprocess.run(["umount", "-l", str(path)], check=False)
