"""Send mutated files through the real intake, and print what came of them.

The exit code is 1 where something did not hold. 20,000 files take about half an hour on two cores.
`python -m tests.fuzz.guided MINUTES` looks for new paths by coverage instead.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

from tests.fuzz.run import Outcome, fuzz


def main() -> int:
    """Run; the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--cases", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1, help="decides which bytes are changed")
    parser.add_argument("--keep", type=Path, help="folder for files with which it went wrong")
    asked = parser.parse_args()
    if asked.keep is not None:
        asked.keep.mkdir(parents=True, exist_ok=True)
    begun = time.monotonic()
    outcome = fuzz(asked.cases, asked.seed, keep=asked.keep)
    print_outcome(outcome, time.monotonic() - begun)
    return 1 if outcome.broken else 0


def print_outcome(outcome: Outcome, took_s: float) -> None:
    """A line for each kind of file, then what was measured and what did not hold."""
    kinds: dict[str, Counter[str]] = {}
    for (kind, told), count in outcome.by_kind.items():
        kinds.setdefault(kind, Counter())[told] += count
    for kind, told in sorted(kinds.items()):
        words = ", ".join(f"{count} {name}" for name, count in told.most_common())
        print(f"{kind:<18}{told.total():>6}: {words}")
    ended = ", ".join(f"{count} × {name}" for name, count in outcome.ended.most_common())
    print(
        f"{outcome.by_kind.total()} files in {took_s:.0f} s; the slowest {outcome.longest_s:.1f} s"
    )
    print(f"most memory of a process {outcome.most_bytes / 2**20:.0f} MiB")
    print(f"processes that ended with a photo: {ended or 'none'}")
    print(f"did not hold: {len(outcome.broken)}")
    for line in outcome.broken[:20]:
        print(f"  {line}")


if __name__ == "__main__":
    sys.exit(main())
