"""A real worker process whose maker only pretends, so that faults can be ordered.

The spec says what happens: `pieces`, `piece_s`, and `act`, which is done at the middle
piece: `raise`, `die` (kill -9 of the making process), `hang`, and `wait`, until making the pack
must stop or the file `gate` is there. The pack has some `bytes`. With `--held=2` the maker is
the real one, which waits in the same way at the second piece of each process's third pack.
"""

from __future__ import annotations

import itertools
import os
import signal
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from celery import signals

from worker.errors import Cancelled
from worker.jobs import process as run_module
from worker.jobs.heartbeat import Heartbeat
from worker.jobs.pack_from_plan import make_from_plan
from worker.jobs.pack_job import MadePack, PackMaker, PackRequest
from worker.settings import Settings

#: The piece at which the real maker is held.
HELD_AT = 2


def make_fake(request: PackRequest) -> MadePack:
    pieces = int(request.pack.spec.get("pieces", 4))
    for done in range(pieces):
        if request.heartbeat.stopped():
            raise Cancelled("Stopped.")
        request.heartbeat.progress(done, pieces, "sheets")
        time.sleep(float(request.pack.spec.get("piece_s", 0.02)))
        if done == pieces // 2:
            _act(request)
    filling = b"\1" * int(request.pack.spec.get("bytes", 0))
    (request.folder / "pack.pdf").write_bytes(b"%PDF " + request.pack.id.encode() + filling)
    (request.folder / "map.png").write_bytes(b"map")
    return MadePack(number="0000-0000", total=pieces)


def _act(request: PackRequest) -> None:
    act = request.pack.spec.get("act", "")
    if act == "raise":
        raise ZeroDivisionError("a secret of the inside")
    if act == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if act == "hang":
        time.sleep(600)
    if act == "wait":
        gate = request.pack.spec.get("gate")
        while not (request.heartbeat.stopped() or (gate and Path(gate).exists())):
            time.sleep(0.01)


class _Held:
    """A heartbeat at which the real maker waits, and that tells each piece that it hears of."""

    def __init__(self, heartbeat: Heartbeat) -> None:
        self._heartbeat = heartbeat
        self.stopped = heartbeat.stopped

    def progress(self, done: int, total: int, step: Any) -> None:
        os.write(2, f"piece {done} of {total}\n".encode())
        self._heartbeat.progress(done, total, step)
        while done == HELD_AT and not self.stopped():
            time.sleep(0.01)


def held_after(packs: int) -> PackMaker:
    """The real maker, held at the pack that comes after so many."""
    begun = itertools.count()

    def make(request: PackRequest) -> MadePack:
        held: Any = _Held(request.heartbeat)
        return make_from_plan(request if next(begun) < packs else replace(request, heartbeat=held))

    return make


def _tell_stopping(**_: object) -> None:
    """Whoever asked the worker to end can wait until it knows."""
    os.write(2, b"stopping.\n")


if __name__ == "__main__":
    signals.worker_shutting_down.connect(_tell_stopping)
    if "--threads" in sys.argv:
        # As on systems where Celery's pool of processes is not sound.
        run_module._forks = lambda: False
    held = [int(one.removeprefix("--held=")) for one in sys.argv if one.startswith("--held=")]
    maker = held_after(held[0]) if held else make_fake
    sys.exit(
        run_module.run(Settings.from_env(), watch_parent="--watch-parent" in sys.argv, maker=maker)
    )
