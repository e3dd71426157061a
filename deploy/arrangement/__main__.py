"""Start the arrangement, print its addresses, and stop it on SIGTERM or Ctrl-C."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from pathlib import Path

from deploy.arrangement.arrangement import LOOK_EVERY_S, Arrangement
from deploy.arrangement.parts import PartFailed

#: The exit code of a machine that is not ready, as the `ricalco` command has it.
NOT_READY = 3


def main() -> int:
    """Run until asked to stop."""
    parser = argparse.ArgumentParser(prog="deploy/arrangement.sh", description=__doc__)
    parser.add_argument("folder", type=Path, help="where everything is kept")
    parser.add_argument("--workers", type=int, default=2, help="worker processes")
    parser.add_argument("--web", type=int, default=2, help="web processes")
    asked = parser.parse_args()
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    arrangement = Arrangement(asked.folder, workers=asked.workers, web_processes=asked.web)
    try:
        arrangement.start()
    except PartFailed as error:
        sys.stderr.write(f"{error}\n")
        return NOT_READY
    print(f"Ricalco is at {arrangement.address}")
    print(f"The tutor's key is in {arrangement.folder}/tutor-key", flush=True)
    while not stop.wait(LOOK_EVERY_S):
        arrangement.watch()
    arrangement.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
