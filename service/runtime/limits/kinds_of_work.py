"""The limits of one application: how much of each kind of work runs at once."""

from __future__ import annotations

import os
from pathlib import Path

from service.runtime.limits.concurrency import ConcurrencyLimit, PerPersonLimit
from service.runtime.limits.machine_slots import MachineSlots

#: Photos decoded at once; one with as many pixels as are accepted may take a gigabyte.
MAX_INTAKES = 4
#: How long a photo waits to be decoded; the sender is then asked to come again.
INTAKE_WAIT_S = 30.0
#: Event streams of one person in one process; further pages of theirs poll instead. A stream
#: holds a thread of its process, so more processes have more streams, for each person too.
MOST_STREAMS_EACH = 4


def drawing_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For previews and squaring up: as many at once as there are cores.

    Args:
        folder: Where the processes of this machine share their slots, here and below; None:
            the limit is this process's own.
    """
    cores = os.cpu_count() or 1
    return ConcurrencyLimit(
        cores,
        shared=_shared(folder, "drawing", cores),
        wait_s=20,
        detail="Too much is being drawn at once. Try again in a few seconds.",
    )


def _shared(folder: Path | None, kind: str, count: int) -> MachineSlots | None:
    return None if folder is None else MachineSlots(folder, kind, count)


def intake_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For photos: as many at once as there are cores, and no more than fit into memory.

    It is a limit of its own, so that photos made to keep a decoder busy until it is ended delay
    other photos only.
    """
    slots = min(os.cpu_count() or 1, MAX_INTAKES)
    return ConcurrencyLimit(
        slots,
        shared=_shared(folder, "intake", slots),
        wait_s=INTAKE_WAIT_S,
        detail="Too many photos are being taken in at once. Try again in a few seconds.",
    )


def sheet_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For single sheets: one at once, and few that wait, since each holds a thread.

    Finished packs are sent by the same threads and must not have to wait for sheets.
    """
    return ConcurrencyLimit(
        1,
        shared=_shared(folder, "sheet", 1),
        wait_s=10,
        detail="Too many sheets are being made again at once. Try again in a few seconds.",
        max_waiting=3,
    )


def full_size_limit(folder: Path | None = None) -> ConcurrencyLimit:
    """For whole pictures on one page: as for sheets, and waited for longer."""
    return ConcurrencyLimit(
        1,
        shared=_shared(folder, "full-size", 1),
        wait_s=30,
        detail="Another picture is being made at full size. Try again in half a minute.",
        retry_after_s=30,
        max_waiting=2,
    )


def stream_limit(slots: int) -> PerPersonLimit:
    """For event streams; a client that gets no slot polls instead."""
    limit = ConcurrencyLimit(
        slots,
        wait_s=0,
        detail="Too many event streams are open. Ask for the pack itself now and then instead.",
        retry_after_s=10,
    )
    return PerPersonLimit(limit, MOST_STREAMS_EACH)
