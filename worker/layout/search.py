"""Which partition: fewest sheets first, then the quietest seams.

Candidates differ in how sheets are turned and counted. All that need the fewest sheets, and
where areas are protected up to two sheets more, are cut as quietly as can be and compared.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from worker.errors import TooManySheets
from worker.layout.cuts import CROSSING_COST, Cuts, Length, even_cuts, quietest_cuts
from worker.layout.pages import Page
from worker.layout.partition import Band, Partition
from worker.layout.quiet import Ground
from worker.layout.stagger import APART_MM, Barred, staggered_cuts

#: A narrower piece is hard to trim and to join (common practice).
SHORTEST_PIECE_MM = 40.0
#: So many more sheets may be spent to keep protected areas whole.
SPARE_SHEETS = 2
#: Even rows lean one way and odd rows the other, so that staggered ties do not meet.
_LEAN = 0.5
_EPSILON = 1e-9
_UPRIGHT, _TURNED = 0, 1

RunThrough = Literal["both", "across", "down"]


@dataclass(frozen=True, kw_only=True)
class Job:
    """What is to be partitioned, thought of in rows.

    Attributes:
        ground: The picture as seams see it.
        capacities_mm: Largest piece, (width, height), upright and turned.
        lap_mm: How far pieces reach under their right and lower neighbours.
        quiet: Whether seams look for little line, or split evenly.
    """

    ground: Ground
    capacities_mm: tuple[tuple[float, float], tuple[float, float]]
    lap_mm: float
    quiet: bool

    def transposed(self) -> Job:
        """The same job with rows and columns changed over."""
        (w0, h0), (w1, h1) = self.capacities_mm
        return replace(self, ground=self.ground.transposed(), capacities_mm=((h0, w0), (h1, w1)))

    def across(self, kind: int, count: int) -> Length:
        """The width, cut into `count` pieces of one kind."""
        return self._length(self.ground.width_mm, (self.capacities_mm[kind][0],), (count,))

    def down(self, counts: tuple[int, int]) -> Length:
        """The height, cut into rows of upright and of turned pieces."""
        heights = (self.capacities_mm[_UPRIGHT][1], self.capacities_mm[_TURNED][1])
        return self._length(self.ground.height_mm, heights, counts)

    def _length(
        self, length_mm: float, capacities_mm: tuple[float, ...], counts: tuple[int, ...]
    ) -> Length:
        shortest_mm = min(SHORTEST_PIECE_MM, (length_mm - self.lap_mm) / sum(counts))
        return Length(
            length_mm=length_mm,
            capacities_mm=capacities_mm,
            counts=counts,
            shortest_mm=shortest_mm,
            lap_mm=self.lap_mm,
        )

    def fewest(self, length_mm: float, capacity_mm: float) -> int:
        """How many pieces of this capacity a length takes."""
        advance_mm = capacity_mm - self.lap_mm
        return max(1, math.ceil((length_mm - self.lap_mm) / advance_mm - _EPSILON))

    def sliver_free(self, length_mm: float, count: int) -> bool:
        """Whether so many pieces can all be wide enough to handle."""
        return (length_mm - self.lap_mm) / count >= SHORTEST_PIECE_MM


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """How many rows of either kind, and how many pieces in a row of each kind."""

    rows: tuple[int, int]
    pieces: tuple[int, int]

    @property
    def sheets(self) -> int:
        """Pieces in all."""
        return self.rows[0] * self.pieces[0] + self.rows[1] * self.pieces[1]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A partition, how it runs, and the same sheets evenly split."""

    partition: Partition
    run_through: RunThrough
    even: Partition
    job: Job


def job_of(ground: Ground, page: Page, *, lap_mm: float, quiet: bool) -> Job:
    """The job of cutting a picture into pieces for a page."""
    capacities = (page.capacity(turned=False), page.capacity(turned=True))
    return Job(ground=ground, capacities_mm=capacities, lap_mm=lap_mm, quiet=quiet)


def best_partition(job: Job, *, staggered: bool, max_sheets: int) -> Choice:
    """The partition with the fewest protected areas crossed, sheets, and line under tape.

    Raises:
        TooManySheets: More than `max_sheets` would be needed.
    """
    spare = SPARE_SHEETS if job.ground.protected else 0
    turns: tuple[tuple[Job, RunThrough], ...] = (
        ((job, "across"), (job.transposed(), "down")) if staggered else ((job, "both"),)
    )
    offers = [
        (one, run, candidate)
        for one, run in turns
        for candidate in _candidates(one, spare, mixed=staggered)
    ]
    fewest = min(candidate.sheets for _, _, candidate in offers)
    if fewest > max_sheets:
        raise TooManySheets(_too_many(fewest, max_sheets), field="support")
    choices = [
        _choose(one, run, candidate, fewest + spare)
        for one, run, candidate in offers
        if candidate.sheets <= fewest + spare
    ]
    return min((choice for choice in choices if choice), key=_rank)


def fewest_sheets(job: Job, *, staggered: bool) -> int:
    """How many sheets at least, without looking for seams."""
    jobs = (job, job.transposed()) if staggered else (job,)
    found = (c.sheets for one in jobs for c in _candidates(one, 0, mixed=staggered))
    return min(found)


def _too_many(fewest: int, max_sheets: int) -> str:
    return (
        f"This picture takes {fewest} sheets; one pack may have {max_sheets}. "
        "Use larger sheets or smaller margins, or make the picture in parts."
    )


def _rank(choice: Choice) -> tuple[int, int, bool, float, int]:
    partition, ground = choice.partition, choice.job.ground
    return (
        len(partition.crossed(ground)),
        partition.sheets,
        choice.run_through != "both" and partition.corners_meet(),
        round(partition.line_mm(ground), 6),
        sum(band.turned for band in partition.bands),
    )


def _candidates(job: Job, spare: int, *, mixed: bool) -> Iterator[Candidate]:
    """All counts of rows and pieces that cover the picture with few enough sheets."""
    width_mm, height_mm = job.ground.width_mm, job.ground.height_mm
    fewest = (
        job.fewest(width_mm, job.capacities_mm[_UPRIGHT][0]),
        job.fewest(width_mm, job.capacities_mm[_TURNED][0]),
    )
    for rows in _row_counts(job, spare, mixed=mixed):
        more = 0 if mixed else spare
        for extra in range(more + 1):
            pieces = (fewest[0] + extra, fewest[1] + extra)
            used = pieces[_UPRIGHT] if rows[_UPRIGHT] else pieces[_TURNED]
            if extra and not job.sliver_free(width_mm, used):
                continue
            if sum(rows) > 1 and not job.sliver_free(height_mm, sum(rows)) and spare:
                continue
            yield Candidate(rows=rows, pieces=pieces)


def _row_counts(job: Job, spare: int, *, mixed: bool) -> Iterator[tuple[int, int]]:
    height_mm, lap_mm = job.ground.height_mm, job.lap_mm
    advance = job.capacities_mm[_UPRIGHT][1] - lap_mm, job.capacities_mm[_TURNED][1] - lap_mm
    most = job.fewest(height_mm, job.capacities_mm[_UPRIGHT][1])
    for upright in range(most + 1):
        left_mm = height_mm - lap_mm - upright * advance[0]
        turned = max(0, math.ceil(left_mm / advance[1] - _EPSILON))
        if not mixed and upright and (turned or upright < most):
            continue
        for extra in range(spare + 1):
            if upright:
                yield upright + extra, turned
            if turned and (mixed or not upright):
                yield upright, turned + extra


def _choose(job: Job, run: RunThrough, candidate: Candidate, budget: int) -> Choice | None:
    ground = job.ground
    lying = ground.transposed().cost(0.0, ground.width_mm, quiet=job.quiet)
    through = quietest_cuts(job.down(candidate.rows), lying)
    if through is None:
        return None
    rows = _Rows(job, through)
    cut = (
        rows.aligned(candidate)
        if run == "both"
        else rows.staggered(candidate, budget - candidate.sheets)
    )
    if cut is None:
        return None
    partition = rows.partition(cut)
    even = _even_like(job, partition, through.kinds, staggered=run != "both")
    if not job.quiet and _as_good(even, partition, ground, staggered=run != "both"):
        partition = even
    return Choice(partition=partition, run_through=run, even=even, job=job)


class _Rows:
    """Rows between seams that run through, to be cut across."""

    def __init__(self, job: Job, through: Cuts) -> None:
        self.job = job
        self.kinds = through.kinds
        self.edges = (0.0, *through.at_mm, job.ground.height_mm)

    def aligned(self, candidate: Candidate) -> tuple[Cuts, ...] | None:
        """The same cuts in all rows, which are all of one kind."""
        kind = self.kinds[0]
        ground = self.job.ground
        cost = ground.cost(0.0, ground.height_mm, quiet=self.job.quiet)
        cuts = quietest_cuts(self.job.across(kind, candidate.pieces[kind]), cost)
        return None if cuts is None else (cuts,) * len(self.kinds)

    def staggered(self, candidate: Candidate, spare: int) -> tuple[Cuts, ...] | None:
        """Own cuts in every row; `spare` sheets may be spent on rows that need them."""
        counts = self._counts(candidate, spare)
        lengths = [self.job.across(kind, n) for kind, n in zip(self.kinds, counts, strict=True)]
        solve = lambda row, barred: self._row(row, counts[row], barred)  # noqa: E731
        slack = min((one.slack_mm for one in lengths if sum(one.counts) > 1), default=APART_MM)
        apart = float(min(APART_MM, math.floor(slack + _EPSILON)))
        if apart >= 1.0:
            found = staggered_cuts(len(counts), solve, apart)
            if found is not None:
                return found
        alone = [solve(row, ()) for row in range(len(counts))]
        return None if None in alone else tuple(cut for cut in alone if cut is not None)

    def partition(self, cuts: tuple[Cuts, ...]) -> Partition:
        """The rows with their cuts."""
        bands = tuple(
            Band(
                top_mm=self.edges[row],
                bottom_mm=self.edges[row + 1],
                turned=self.kinds[row] == _TURNED,
                cuts_mm=cut.at_mm,
            )
            for row, cut in enumerate(cuts)
        )
        ground = self.job.ground
        return Partition(width_mm=ground.width_mm, height_mm=ground.height_mm, bands=bands)

    def _row(self, row: int, count: int, barred: Barred) -> Cuts | None:
        top_mm, bottom_mm = self.edges[row], self.edges[row + 1]
        cost = self.job.ground.cost(top_mm, bottom_mm, quiet=self.job.quiet, barred=barred)
        lean = -_LEAN if row % 2 else _LEAN
        return quietest_cuts(self.job.across(self.kinds[row], count), cost, shift_share=lean)

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
        free = self.job.sliver_free(self.job.ground.width_mm, count + extra)
        return free and not self._crosses(row, count + extra)


def _even_like(
    job: Job, partition: Partition, kinds: tuple[int, ...], *, staggered: bool
) -> Partition:
    """The same sheets, split evenly."""
    counts = (kinds.count(_UPRIGHT), kinds.count(_TURNED))
    edges = (0.0, *even_cuts(job.down(counts), kinds), partition.height_mm)
    bands = []
    for row, band in enumerate(partition.bands):
        length = job.across(kinds[row], band.pieces)
        lean = (-_LEAN if row % 2 else _LEAN) if staggered else 0.0
        cuts = even_cuts(length, (0,) * band.pieces, shift_share=lean)
        bands.append(replace(band, top_mm=edges[row], bottom_mm=edges[row + 1], cuts_mm=cuts))
    return replace(partition, bands=tuple(bands))


def _as_good(even: Partition, other: Partition, ground: Ground, *, staggered: bool) -> bool:
    crosses_more = len(even.crossed(ground)) > len(other.crossed(ground))
    return not crosses_more and not (staggered and even.corners_meet() > other.corners_meet())
