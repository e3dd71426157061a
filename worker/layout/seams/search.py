"""Which partition: fewest sheets first, then the fewest eyes cut and the least line under tape.

Candidates differ in how many sheets are turned, and in rows and pieces. All candidates with the
fewest sheets (or up to two more, where areas are protected) are cut along the least line and
compared. Seams that run through are found first, the others within them: each stage is exact,
their sum need not be. The search has a budget of nodes; past it, each row gives way to the row
above. The tests compare both stages with brute force.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

from worker.errors import TooManySheets
from worker.layout.seams.candidates import Candidate, candidates
from worker.layout.seams.cost_map import CostMap
from worker.layout.seams.cuts import CROSSING_COST, CutLayout, even_cuts, quietest_cuts
from worker.layout.seams.cutting_problem import TURNED, UPRIGHT, CuttingProblem
from worker.layout.seams.partition import Band, Partition
from worker.layout.seams.stagger import APART_MM, MOST_NODES, Barred, staggered_cuts

#: So many more sheets may be spent to keep protected areas whole.
SPARE_SHEETS = 2
#: All candidates together may look at so many of the stagger's problems, so that a plan
#: answers while a finger moves.
_NODES_OF_ALL = 600
#: Even rows lean one way and odd rows the other, so that staggered ties do not meet.
_LEAN = 0.5
_EPSILON = 1e-9

RunThrough = Literal["both", "across", "down"]
_Offer = tuple[CuttingProblem, RunThrough, Candidate]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """The chosen partition.

    Attributes:
        partition: The rows with their cuts.
        run_through: Which seams run through from edge to edge.
        even: The same sheets, split evenly, for comparison.
        problem: What was solved; transposed where rows are the picture's columns.
    """

    partition: Partition
    run_through: RunThrough
    even: Partition
    problem: CuttingProblem


def best_partition(problem: CuttingProblem, *, staggered: bool, max_sheets: int) -> Choice:
    """The partition with the fewest protected areas crossed, sheets, eyes cut, and line under tape.

    Raises:
        TooManySheets: More than `max_sheets` would be needed.
    """
    spare = SPARE_SHEETS if problem.cost_map.protected else 0
    turns: tuple[tuple[CuttingProblem, RunThrough], ...] = (
        ((problem, "across"), (problem.transposed(), "down")) if staggered else ((problem, "both"),)
    )
    offers = [
        (one, run, candidate)
        for one, run in turns
        for candidate in candidates(one.counting, spare, mixed=staggered)
    ]
    fewest = min(candidate.sheets for _, _, candidate in offers)
    if fewest > max_sheets:
        raise TooManySheets(_too_many(fewest, max_sheets), field="support")
    most = min(fewest + spare, max_sheets)
    offers = [offer for offer in offers if offer[2].sheets <= most]
    nodes = min(MOST_NODES, _NODES_OF_ALL // len(offers))
    choices = [_choose(offer, most, nodes) for offer in offers]
    return min((choice for choice in choices if choice), key=_rank)


def _too_many(fewest: int, max_sheets: int) -> str:
    return (
        f"This picture takes {fewest} sheets; one pack may have {max_sheets}. "
        "Use larger sheets or smaller margins, or make the picture in parts."
    )


def _rank(choice: Choice) -> tuple[int, int, int, bool, float, int]:
    partition, cost_map = choice.partition, choice.problem.cost_map
    return (
        len(partition.crossed(cost_map)),
        partition.sheets,
        partition.eyes_cut(cost_map),
        choice.run_through != "both" and partition.corners_meet(),
        round(partition.worth_mm(cost_map), 6),
        sum(band.turned for band in partition.bands),
    )


def _choose(offer: _Offer, budget: int, nodes: int) -> Choice | None:
    """The offer cut along the least line, with at most `budget` sheets."""
    problem, run, candidate = offer
    cost_map = problem.cost_map
    lying = cost_map.transposed().cost(0.0, cost_map.width_mm, quiet=problem.quiet)
    through = quietest_cuts(problem.down(candidate.rows), lying)
    if through is None:
        return None
    rows = _Rows(problem, through, nodes)
    cut = (
        rows.aligned(candidate)
        if run == "both"
        else rows.staggered(candidate, budget - candidate.sheets)
    )
    if cut is None:
        return None
    partition = rows.partition(cut)
    even = _even_like(problem, partition, through.kinds, staggered=run != "both")
    if not problem.quiet and _as_good(even, partition, cost_map, staggered=run != "both"):
        partition = even
    return Choice(partition=partition, run_through=run, even=even, problem=problem)


class _Rows:
    """Rows between seams that run through, to be cut across."""

    def __init__(self, problem: CuttingProblem, through: CutLayout, nodes: int) -> None:
        self.problem = problem
        self.nodes = nodes
        self.kinds = through.kinds
        self.edges = (0.0, *through.at_mm, problem.cost_map.height_mm)

    def aligned(self, candidate: Candidate) -> tuple[CutLayout, ...] | None:
        """The same cuts in all rows, which are all of one kind."""
        kind = self.kinds[0]
        cost_map = self.problem.cost_map
        cost = cost_map.cost(0.0, cost_map.height_mm, quiet=self.problem.quiet)
        cuts = quietest_cuts(self.problem.across(kind, candidate.pieces[kind]), cost)
        return None if cuts is None else (cuts,) * len(self.kinds)

    def staggered(self, candidate: Candidate, spare: int) -> tuple[CutLayout, ...] | None:
        """Own cuts in every row; `spare` sheets may be spent on rows that need them."""
        counts = self._counts(candidate, spare)
        lengths = [self.problem.across(kind, n) for kind, n in zip(self.kinds, counts, strict=True)]

        def solve(row: int, barred: Barred) -> CutLayout | None:
            return self._row(row, counts[row], barred)

        slack = min((one.slack_mm for one in lengths if sum(one.counts) > 1), default=APART_MM)
        apart = float(min(APART_MM, math.floor(slack + _EPSILON)))
        if apart >= 1.0:
            found = staggered_cuts(len(counts), solve, apart, self.nodes)
            if found is not None:
                return found
        alone = [solve(row, ()) for row in range(len(counts))]
        return None if None in alone else tuple(cut for cut in alone if cut is not None)

    def partition(self, cuts: tuple[CutLayout, ...]) -> Partition:
        """The rows with their cuts."""
        bands = tuple(
            Band(
                top_mm=self.edges[row],
                bottom_mm=self.edges[row + 1],
                turned=self.kinds[row] == TURNED,
                cuts_mm=cut.at_mm,
            )
            for row, cut in enumerate(cuts)
        )
        cost_map = self.problem.cost_map
        return Partition(width_mm=cost_map.width_mm, height_mm=cost_map.height_mm, bands=bands)

    def _row(self, row: int, count: int, barred: Barred) -> CutLayout | None:
        top_mm, bottom_mm = self.edges[row], self.edges[row + 1]
        cost = self.problem.cost_map.cost(
            top_mm, bottom_mm, quiet=self.problem.quiet, barred=barred
        )
        lean = -_LEAN if row % 2 else _LEAN
        return quietest_cuts(self.problem.across(self.kinds[row], count), cost, shift_share=lean)

    def _counts(self, candidate: Candidate, spare: int) -> list[int]:
        counts = [candidate.pieces[kind] for kind in self.kinds]
        for row in range(len(counts)):
            for extra in range(1, spare + 1):
                if not self._crosses(row, counts[row]):
                    break
                if self._mends(row, counts[row], extra):
                    counts[row] += extra
                    spare -= extra
                    break
        return counts

    def _crosses(self, row: int, count: int) -> bool:
        cuts = self._row(row, count, ())
        return cuts is not None and cuts.cost >= CROSSING_COST

    def _mends(self, row: int, count: int, extra: int) -> bool:
        free = self.problem.counting.sliver_free(self.problem.cost_map.width_mm, count + extra)
        return free and not self._crosses(row, count + extra)


def _even_like(
    problem: CuttingProblem, partition: Partition, kinds: tuple[int, ...], *, staggered: bool
) -> Partition:
    """The same sheets, split evenly."""
    counts = (kinds.count(UPRIGHT), kinds.count(TURNED))
    edges = (0.0, *even_cuts(problem.down(counts), kinds), partition.height_mm)
    bands = []
    for row, band in enumerate(partition.bands):
        length = problem.across(kinds[row], band.pieces)
        lean = (-_LEAN if row % 2 else _LEAN) if staggered else 0.0
        cuts = even_cuts(length, (0,) * band.pieces, shift_share=lean)
        bands.append(replace(band, top_mm=edges[row], bottom_mm=edges[row + 1], cuts_mm=cuts))
    return replace(partition, bands=tuple(bands))


def _as_good(even: Partition, other: Partition, cost_map: CostMap, *, staggered: bool) -> bool:
    crosses_more = len(even.crossed(cost_map)) > len(other.crossed(cost_map))
    return not crosses_more and not (staggered and even.corners_meet() > other.corners_meet())
