"""Staggered rows: each cut along the least line, with seams apart from those of its neighbours.

Rows depend on each other only where a seam of one is too close to a seam of the next. So each
row is first solved alone. Where two seams conflict, any valid layout has at least one of the
two rows without a seam in the interval around them, which gives two smaller problems. Searching
these best first finds the optimum (conflict-based search, Sharon et al. 2015, here over rows
instead of agents); the tests compare it with brute force.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass
from itertools import count, pairwise

from worker.layout.seams.cuts import CutLayout

#: Seams of neighbouring rows keep at least this far apart where the slack allows it: a bit
#: of tape on one does not touch the other.
APART_MM = 15.0
#: So many problems are looked at before the search gives up.
MOST_NODES = 300

Interval = tuple[float, float]
Barred = tuple[Interval, ...]
#: Solves one row with intervals barred, or says None.
SolveRow = Callable[[int, Barred], CutLayout | None]


@dataclass(frozen=True)
class _Node:
    barred: tuple[Barred, ...]
    cuts: tuple[CutLayout, ...]

    @property
    def cost(self) -> float:
        return sum(cut.cost for cut in self.cuts)

    def conflicts(self, apart_mm: float) -> list[tuple[int, float]]:
        """Upper row and middle of each pair of seams that are too close."""
        return [
            (row, (one + other) / 2)
            for row, (above, below) in enumerate(pairwise(self.cuts))
            for one in above.at_mm
            for other in below.at_mm
            if abs(one - other) < apart_mm - 1e-9
        ]


def staggered_cuts(
    rows: int, solve: SolveRow, apart_mm: float, most_nodes: int = MOST_NODES
) -> tuple[CutLayout, ...] | None:
    """The cheapest cuts of all rows with neighbours at least `apart_mm` apart.

    Args:
        rows: How many there are.
        solve: Solves one of them.
        apart_mm: How far seams of neighbouring rows keep apart.
        most_nodes: So many problems are looked at; then each row gives way to the one above
            it, which is no longer sure to be the cheapest.

    Returns:
        The cuts of each row, or None if there are none or none were found.
    """
    free: Barred = ()
    first = [solve(row, free) for row in range(rows)]
    if any(cut is None for cut in first):
        return None
    root = _Node((free,) * rows, tuple(cut for cut in first if cut is not None))
    order = count()
    queue = [(root.cost, len(root.conflicts(apart_mm)), next(order), root)]
    for _ in range(most_nodes):
        if not queue:
            return None
        node = heapq.heappop(queue)[3]
        conflicts = node.conflicts(apart_mm)
        if not conflicts:
            return node.cuts
        row, middle = conflicts[0]
        interval = (middle - apart_mm / 2, middle + apart_mm / 2)
        for child in _children(node, (row, row + 1), interval, solve):
            entry = (child.cost, len(child.conflicts(apart_mm)), next(order), child)
            heapq.heappush(queue, entry)
    return _downwards(rows, solve, apart_mm)


def _downwards(rows: int, solve: SolveRow, apart_mm: float) -> tuple[CutLayout, ...] | None:
    """Each row as cheap as the row above it leaves it."""
    cuts: list[CutLayout] = []
    for row in range(rows):
        above = cuts[-1].at_mm if cuts else ()
        cut = solve(row, tuple((at_mm - apart_mm, at_mm + apart_mm) for at_mm in above))
        if cut is None:
            return None
        cuts.append(cut)
    return tuple(cuts)


def _children(
    node: _Node, rows: tuple[int, int], interval: Interval, solve: SolveRow
) -> list[_Node]:
    found = []
    for row in rows:
        barred = (*node.barred[row], interval)
        cuts = solve(row, barred)
        if cuts is not None:
            found.append(
                _Node(
                    (*node.barred[:row], barred, *node.barred[row + 1 :]),
                    (*node.cuts[:row], cuts, *node.cuts[row + 1 :]),
                )
            )
    return found
