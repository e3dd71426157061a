"""A real worker process whose maker only pretends, so that faults can be ordered.

The spec says what happens: `pieces`, `piece_s`, and `act`, which is done at the middle
piece: `raise`, `die` (kill -9 of the making process), `hang`. The pack has some `bytes`.
"""

from __future__ import annotations

import os
import signal
import sys
import time

from worker.errors import Cancelled
from worker.jobs import process as run_module
from worker.jobs.pack_job import MadePack, PackRequest
from worker.settings import Settings


def make_fake(request: PackRequest) -> MadePack:
    pieces = int(request.pack.spec.get("pieces", 4))
    for done in range(pieces):
        if request.heartbeat.stopped():
            raise Cancelled("Stopped.")
        request.heartbeat.progress(done, pieces, "sheets")
        time.sleep(float(request.pack.spec.get("piece_s", 0.02)))
        if done == pieces // 2:
            _act(str(request.pack.spec.get("act", "")))
    filling = b"\1" * int(request.pack.spec.get("bytes", 0))
    (request.folder / "pack.pdf").write_bytes(b"%PDF " + request.pack.id.encode() + filling)
    (request.folder / "map.png").write_bytes(b"map")
    return MadePack(number="0000-0000", total=pieces)


def _act(act: str) -> None:
    if act == "raise":
        raise ZeroDivisionError("a secret of the inside")
    if act == "die":
        os.kill(os.getpid(), signal.SIGKILL)
    if act == "hang":
        time.sleep(600)


if __name__ == "__main__":
    if "--threads" in sys.argv:
        # As on systems where Celery's pool of processes is not sound.
        run_module._forks = lambda: False
    sys.exit(
        run_module.run(
            Settings.from_env(), watch_parent="--watch-parent" in sys.argv, maker=make_fake
        )
    )
