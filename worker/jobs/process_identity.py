"""Telling a process from another that has its number.

Systems give numbers out again, also to other users' processes, which may not even be asked
whether they live. A number together with the time of its process's start names one process.
"""

from __future__ import annotations

import os
from pathlib import Path

_TABLE = Path("/proc")
#: Fields of /proc/<number>/stat after the program's name, from 0: proc_pid_stat(5).
_STATE, _START = 0, 19
#: Ended, and only waiting for its parent to notice.
_ENDED = frozenset("ZX")


def process_name(process: int) -> str | None:
    """A name that no other process has while this machine runs; None: it has ended.

    Where the system tells no start, its number alone. Asked of other processes than this one
    only by a pool of processes, which there is on Linux alone.

    Raises:
        OSError: It cannot be told now.
    """
    try:
        told = (_TABLE / str(process) / "stat").read_bytes()
    except (FileNotFoundError, ProcessLookupError, PermissionError):
        return None if (_TABLE / "self").exists() else _by_number(process)
    # The program's name stands in brackets, and may have brackets and blanks of its own.
    fields = told.rpartition(b")")[2].decode("ascii").split()
    return None if fields[_STATE] in _ENDED else f"{process}-{fields[_START]}"


def is_alive(name: str) -> bool:
    """Whether the process of this name does."""
    number = name.partition("-")[0]
    return number.isdecimal() and process_name(int(number)) == name


def _by_number(process: int) -> str | None:
    if process != os.getpid():
        try:
            os.kill(process, 0)
        except (ProcessLookupError, PermissionError):
            # Another user's process has the number: then the one that is meant is gone.
            return None
    return str(process)
