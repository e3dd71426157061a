"""`python -m tests.bench sizing`: what deploy/SIZING.md's tables are made of, as Markdown.

The assumptions, each of them ours where nothing else is said:

- a school week has five days of six lessons; each class of 30 works with packs in one lesson a
  week, in any of the thirty;
- lessons of one hour begin within five minutes of each other;
- in half of the classes the tutor asks for all at once, in the others each student asks within
  the first ten minutes;
- each pack takes as long as one of those that were measured, drawn at random;
- one worker has one core; web, ledger and broker have others beside.

Wanted is that 95 of 100 students who ask themselves have their pack within a minute, and 95 of
100 tutors the last pack of their class within ten. A school week is simulated for each number of
workers, and the fewest that do it are told.
"""

from __future__ import annotations

import math
import random
import statistics
from collections import defaultdict

from tests.bench.sizing.figures import MAKING_S, PACK_BYTES, PHOTO_BYTES, ROW_BYTES
from tests.bench.sizing.queue_model import Asked, Served, percentile, simulate

CLASS, LESSONS, LESSON_S = 30, 30, 3600.0
BEGIN_WITHIN_S, ASK_WITHIN_S, BATCHES = 300.0, 600.0, 0.5
STUDENT_S, CLASS_S, OF_ALL = 60.0, 600.0, 0.95
#: Packs are kept so many weeks (`KEEP_DAYS`).
KEPT_WEEKS = 30 / 7
STUDENTS = (30, 3_000, 300_000)


def week(students: int, chance: random.Random) -> list[Asked]:
    """All packs of a week; payers from 0 are tutors, below that students."""
    asked: list[Asked] = []
    for class_ in range(max(1, students // CLASS)):
        begins_s = chance.randrange(LESSONS) * LESSON_S + chance.uniform(0, BEGIN_WITHIN_S)
        together = chance.random() < BATCHES
        for place in range(CLASS):
            at_s = begins_s if together else begins_s + chance.uniform(0, ASK_WITHIN_S)
            payer = class_ if together else -1 - class_ * CLASS - place
            asked.append(Asked(at_s, payer, chance.choice(MAKING_S)))
    return asked


def ready_within(served: list[Served]) -> tuple[float, float]:
    """Within how long 95 of 100 students and 95 of 100 tutors have what they asked for, in s."""
    alone = [one.ready_s - one.asked.at_s for one in served if one.asked.payer < 0]
    last: dict[int, float] = defaultdict(float)
    for one in served:
        if one.asked.payer >= 0:
            took_s = one.ready_s - one.asked.at_s
            last[one.asked.payer] = max(last[one.asked.payer], took_s)
    return (
        percentile(alone, OF_ALL) if alone else 0.0,
        percentile(list(last.values()), OF_ALL) if last else 0.0,
    )


def fewest(asked: list[Asked]) -> tuple[int, float, float]:
    """The fewest workers that do what is wanted, and what they do."""
    low, high = 0, 1
    while not _enough(asked, high):
        low, high = high, high * 2
    while high - low > max(1, high // 50):
        middle = (low + high) // 2
        low, high = (low, middle) if _enough(asked, middle) else (middle, high)
    return (high, *ready_within(simulate(asked, high)))


def _enough(asked: list[Asked], workers: int) -> bool:
    student_s, class_s = ready_within(simulate(asked, workers))
    return student_s <= STUDENT_S and class_s <= CLASS_S


_COLUMNS = ("students", "packs a week", "most waiting", "workers (cores)", "busy")
_COLUMNS += ("95 % of students", "95 % of classes", "files kept", "ledger")
HEAD = (f"| {' | '.join(_COLUMNS)} |", f"|{'---:|' * len(_COLUMNS)}")


def row(students: int) -> str:
    """One line of the table."""
    chance = random.Random(3)  # noqa: S311 -- Nothing secret.
    asked = week(students, chance)
    if students == CLASS:
        # The one class asks at once, which needs more.
        asked = [Asked(0.0, 0, one.making_s) for one in asked]
    workers, student_s, class_s = fewest(asked)
    busy = sum(one.making_s for one in asked) / (workers * LESSONS * LESSON_S)
    kept = len(asked) * KEPT_WEEKS
    cells = (
        f"{students:,}",
        f"{len(asked):,}",
        f"{_most_waiting(simulate(asked, workers)):,}",
        f"{workers}",
        f"{busy:.1%}",
        _seconds(student_s),
        _seconds(class_s),
        _bytes(kept * (PACK_BYTES + PHOTO_BYTES)),
        _bytes(kept * ROW_BYTES),
    )
    return f"| {' | '.join(cells)} |"


def report() -> None:
    """Print the table."""
    print(f"\nPacks an hour and core: {3600 / statistics.fmean(MAKING_S):.0f}\n")
    for line in (*HEAD, *map(row, STUDENTS)):
        print(line, flush=True)


def _most_waiting(served: list[Served]) -> int:
    steps = [(one.asked.at_s, 1) for one in served] + [(one.begun_s, -1) for one in served]
    waiting = most = 0
    for _, change in sorted(steps):
        waiting += change
        most = max(most, waiting)
    return most


def _seconds(value: float) -> str:
    return f"{math.ceil(value)} s" if value else "–"


def _bytes(value: float) -> str:
    for unit, size in (("TB", 1e12), ("GB", 1e9), ("MB", 1e6)):
        if value >= size:
            return f"{value / size:.1f} {unit}"
    return f"{value / 1e3:.0f} kB"
