"""The limits that a process sets for itself before it reads a stranger's file.

Each limit is set where the system has it. Everywhere, the parent process watches the clock and
ends this one; Windows has nothing else, macOS no limit of address space and no network
namespace.
"""

from __future__ import annotations

import ctypes
import os
import sys
from contextlib import suppress
from pathlib import Path

from worker.reference.isolated.budget import Budget

if sys.platform != "win32":
    import resource

#: Linux, linux/sched.h and linux/prctl.h.
_CLONE_NEWUSER, _CLONE_NEWNET = 0x10000000, 0x40000000
_PR_SET_NO_NEW_PRIVS = 38
#: Standard lines, the folder's files and what the system's libraries open.
MOST_FILES = 64


def confine() -> None:
    """Set the limits that hold for all photos; call it before any library starts a thread."""
    if sys.platform == "win32":
        return
    _limit(resource.RLIMIT_CORE, 0)
    _limit(resource.RLIMIT_NOFILE, MOST_FILES)
    if sys.platform == "linux":
        _leave_network()


def _leave_network() -> None:
    """Move into a network namespace without any connection, where the system allows it.

    Root may do that as it is; others need a user namespace with it, which containers often
    forbid. Neither lets it run a program with more rights.
    """
    with suppress(OSError, AttributeError):
        libc = ctypes.CDLL(None)
        libc.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
        if libc.unshare(_CLONE_NEWNET) != 0:
            libc.unshare(_CLONE_NEWUSER | _CLONE_NEWNET)


def set_limits(budget: Budget) -> None:
    """Set the limits for the next photo, on top of what this process has used already."""
    if sys.platform == "win32":
        return
    used = resource.getrusage(resource.RUSAGE_SELF)
    _limit(resource.RLIMIT_CPU, int(used.ru_utime + used.ru_stime) + budget.cpu_s + 1)
    _limit(resource.RLIMIT_FSIZE, budget.written_bytes)
    if sys.platform == "linux":
        _limit(resource.RLIMIT_AS, _address_space_bytes() + budget.memory_bytes)


def _limit(what: int, most: int) -> None:
    """Lower what is enforced; the system's own ceiling stays, for the next photo."""
    if sys.platform != "win32":
        _, ceiling = resource.getrlimit(what)
        if ceiling != resource.RLIM_INFINITY:
            most = min(most, ceiling)
        with suppress(OSError, ValueError):
            resource.setrlimit(what, (most, ceiling))


def _address_space_bytes() -> int:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    return pages * os.sysconf("SC_PAGE_SIZE")
