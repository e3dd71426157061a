"""The worker that notes how long the making of each pack took, started by the supervisor.

What making takes differs with what else the cores do: beside another worker it waits for memory
and caches more. So it is measured where it is done, and not once alone. It is the processor time of
`make_pack`, of all threads but the heartbeat's; what a worker does before and after it is none.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path
from typing import Any

from worker.jobs import pack_from_plan, process
from worker.make.pack import PackFiles, make_pack

#: The variable that names the file to which a line is added for each pack, in s.
NOTES = "COUNTED_MAKING"


def _own_s() -> float:
    """Processor time of this process so far, less that of heartbeats under way."""
    beats = [one.ident for one in threading.enumerate() if one.name == "heartbeat"]
    clocks = [time.pthread_getcpuclockid(ident) for ident in beats if ident is not None]
    return time.process_time() - sum(map(time.clock_gettime, clocks))


def _counted(*arguments: Any, **more: Any) -> PackFiles:
    """`make_pack`, which notes what it took."""
    began_s = _own_s()
    made = make_pack(*arguments, **more)
    took_s = _own_s() - began_s
    with Path(os.environ[NOTES]).open("a") as notes:
        notes.write(f"{took_s}\n")
    return made


if __name__ == "__main__":
    pack_from_plan.make_pack = _counted
    sys.exit(process.main())
