"""Names of the processes that hold leases, and whether such a process is still alive.

Systems use process numbers again, also for other users' processes, which this one may not even
send a signal to. A number together with the time when its process started names one process.
"""

from __future__ import annotations

import os
from pathlib import Path

_TABLE = Path("/proc")
#: Fields of /proc/<number>/stat after the program's name, from 0: proc_pid_stat(5).
_STATE, _START = 0, 19
#: Ended, and only waiting for its parent to notice.
_ENDED = frozenset("ZX")


def holder_name(worker: str) -> str:
    """The name under which this process of a worker holds leases in the ledger."""
    return f"{worker}/{process_name(os.getpid())}"


def dead_holders(worker: str, holders: set[str]) -> set[str]:
    """Those that name processes of this worker that have ended, for example killed ones."""
    own = {holder for holder in holders if holder.startswith(f"{worker}/")}
    return {holder for holder in own if not is_alive(holder.rpartition("/")[2])}


def process_name(process: int) -> str | None:
    """A name that no other process has while this machine runs; None: it has ended.

    Where the system gives no time of start it is the number alone. Only a pool of processes,
    which is used on Linux alone, asks for other processes than this one.

    Raises:
        OSError: The system cannot say it now.
    """
    try:
        line = (_TABLE / str(process) / "stat").read_bytes()
    except (FileNotFoundError, ProcessLookupError, PermissionError):
        return None if (_TABLE / "self").exists() else _name_by_number(process)
    # The program's name is in brackets, and may contain brackets and blanks itself.
    fields = line.rpartition(b")")[2].decode("ascii").split()
    return None if fields[_STATE] in _ENDED else f"{process}-{fields[_START]}"


def is_alive(name: str) -> bool:
    """Whether the process of this name runs."""
    number = name.partition("-")[0]
    return number.isdecimal() and process_name(int(number)) == name


def _name_by_number(process: int) -> str | None:
    if process != os.getpid():
        try:
            os.kill(process, 0)
        except (ProcessLookupError, PermissionError):
            # The number is free, or it is now another user's process: ours has ended.
            return None
    return str(process)
