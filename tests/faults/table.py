"""What a fault run prints."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from tests.faults.rounds import STUCK_S, Round, Run

_WIDE = 38


def print_run(run: Run) -> None:
    """One table for one place, its refusals, and what its programs' logs have of tracebacks."""
    print(f"\nFaults: {run.place.name}, seed {run.seed}")
    print(f"{'fault':<{_WIDE}} times  packs  touched  failed  longest recovery")
    for fault in run.place.faults:
        rounds = [one for one in run.rounds if one.fault == fault.name]
        if rounds:
            packs, touched = sum(one.packs for one in rounds), sum(one.touched for one in rounds)
            failed, longest_s = sum(len(one.failed) for one in rounds), _longest_s(rounds)
            counts = f"{len(rounds):>6}{packs:>7}{touched:>9}{failed:>8}"
            print(f"{fault.name:<{_WIDE}}{counts}{longest_s:>16.1f} s")
    codes = Counter(code for one in run.rounds for code in one.failed)
    print(f"  failed with: {_counted(codes)}")
    print(f"  answers while something was wrong: {_counted(run.asker.refusals)}")
    print(f"  files that no row named, removed by upkeep: {run.orphans}")
    print(f"  last lines of tracebacks in the logs: {_counted(tracebacks(run.logs))}")
    for left_out in run.place.left_out:
        print(f"  left out: {left_out}")


def print_verdict(runs: list[Run], *, wanted: int) -> bool:
    """The sums, and what did not hold; whether all did, and all faults happened."""
    faults = sum(len(run.rounds) for run in runs)
    packs = sum(one.packs for run in runs for one in run.rounds)
    broken = [line for run in runs for line in run.broken]
    if faults < wanted:
        broken.append(f"time was over after {faults} of {wanted} faults")
    touched = sum(one.touched for run in runs for one in run.rounds)
    print(f"\n{faults} faults, {packs} packs, of which {touched} were touched.")
    print("None lost, none half made, none made twice, no error without advice,")
    print(f"none stuck longer than {STUCK_S:.0f} s: ", end="")
    print("no, since" if broken else "yes")
    for line in broken:
        print(f"  {line}")
    return not broken


def tracebacks(log: str) -> Counter[str]:
    """How often each error stands at the end of a traceback."""
    found: Counter[str] = Counter()
    within = False
    for line in log.splitlines():
        if line.startswith("Traceback "):
            within = True
        elif within and line and not line.startswith(" "):
            found[line[:150]] += 1
            within = False
    return found


def _longest_s(rounds: list[Round]) -> float:
    return max(one.recovery_s for one in rounds)


def _counted(found: Counter[str]) -> str:
    return "; ".join(_each(found.most_common())) or "none"


def _each(pairs: Iterable[tuple[str, int]]) -> Iterable[str]:
    return (f"{count} × {name}" for name, count in pairs)
