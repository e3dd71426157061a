"""Have some hundred faults happen to both arrangements, side by side, and print what came of it.

The exit code is 1 where an invariant did not hold, or time was over before all had happened. It
takes some fifteen minutes on two cores.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from tests.faults.many_machines import ManyMachines
from tests.faults.one_machine import OneMachine
from tests.faults.place import Place
from tests.faults.rounds import Round, Run
from tests.faults.table import print_run, print_verdict


def main() -> int:
    """Run; the exit code."""
    asked = _arguments()
    runs: list[Run] = []
    until = time.monotonic() + 60 * asked.minutes
    with tempfile.TemporaryDirectory(prefix="ricalco-faults-") as name:
        folder = Path(name)
        # The server of the database runs as another user.
        folder.chmod(0o711)
        makers: dict[str, tuple[int, Callable[[Path], Place]]] = {
            "many": (asked.many, lambda own: ManyMachines(own, asked.seed).place),
            "one": (asked.one, lambda own: OneMachine(own).place),
        }
        threads = [
            threading.Thread(target=_run, args=(folder / kind, make, asked, count, until, runs))
            for kind, (count, make) in makers.items()
            if count
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    for run in runs:
        print_run(run)
    return 0 if print_verdict(runs, wanted=asked.many + asked.one) else 1


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="decides order and moment of faults")
    parser.add_argument("--many", type=int, default=69, help="faults on many machines")
    parser.add_argument("--one", type=int, default=36, help="faults on one machine")
    parser.add_argument("--logs", type=Path, help="folder for what the programs wrote")
    parser.add_argument("--minutes", type=float, default=25, help="after this none begins")
    return parser.parse_args()


def _run(
    folder: Path,
    make: Callable[[Path], Place],
    asked: argparse.Namespace,
    count: int,
    until: float,
    runs: list[Run],
) -> None:
    folder.mkdir()
    place = make(folder)
    run = Run(place, asked.seed)
    runs.append(run)
    try:
        run.begin()
        run.go_on(count, until, lambda one: _tell(place, one))
        run.finish()
    except Exception:  # noqa: BLE001 - the other arrangement's table is wanted all the same.
        run.broken.append(f"{place.name}: {traceback.format_exc()}")
    finally:
        # The files are gone when the table is printed.
        run.logs = place.logs()
        if asked.logs is not None:
            asked.logs.mkdir(parents=True, exist_ok=True)
            (asked.logs / f"{folder.name}.log").write_text(run.logs, encoding="utf-8")
        place.close()


def _tell(place: Place, one: Round) -> None:
    failed = f", failed: {', '.join(one.failed)}" if one.failed else ""
    print(f"{place.name}: {one.fault}: {one.recovery_s:.1f} s{failed}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
