"""Which counts of rows and pieces cover the picture.

Aligned seams need rows of one kind. Staggered ones may mix rows of upright and of turned
pieces, which uses slack better and can save sheets.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from worker.layout.seams.cutting_problem import TURNED, UPRIGHT, CountingProblem

_EPSILON = 1e-9


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """How many rows of either kind, and how many pieces in a row of each kind."""

    rows: tuple[int, int]
    pieces: tuple[int, int]

    @property
    def sheets(self) -> int:
        """Pieces in all."""
        return self.rows[0] * self.pieces[0] + self.rows[1] * self.pieces[1]


def candidates(counting: CountingProblem, spare: int, *, mixed: bool) -> Iterator[Candidate]:
    """All counts of rows and pieces that cover the picture with few enough sheets."""
    width_mm = counting.width_mm
    fewest = (
        counting.fewest(width_mm, counting.capacities_mm[UPRIGHT][0]),
        counting.fewest(width_mm, counting.capacities_mm[TURNED][0]),
    )
    for rows in _row_counts(counting, spare, mixed=mixed):
        more = 0 if mixed else spare
        for extra in range(more + 1):
            pieces = (fewest[0] + extra, fewest[1] + extra)
            used = pieces[UPRIGHT] if rows[UPRIGHT] else pieces[TURNED]
            if extra and not counting.sliver_free(width_mm, used):
                continue
            yield Candidate(rows=rows, pieces=pieces)


def _row_counts(counting: CountingProblem, spare: int, *, mixed: bool) -> Iterator[tuple[int, int]]:
    height_mm, lap_mm = counting.height_mm, counting.lap_mm
    advance = (
        counting.capacities_mm[UPRIGHT][1] - lap_mm,
        counting.capacities_mm[TURNED][1] - lap_mm,
    )
    most = counting.fewest(height_mm, counting.capacities_mm[UPRIGHT][1])
    for upright in range(most + 1):
        left_mm = height_mm - lap_mm - upright * advance[0]
        turned = max(0 if upright else 1, math.ceil(left_mm / advance[1] - _EPSILON))
        if not mixed and upright and (turned or upright < most):
            continue
        for extra in range(spare + 1):
            if extra and not counting.sliver_free(height_mm, upright + turned + extra):
                break
            if upright:
                yield upright + extra, turned
            if turned and (mixed or not upright):
                yield upright, turned + extra


def fewest_sheets(counting: CountingProblem, *, staggered: bool) -> int:
    """How many sheets cover a picture on which nothing is protected."""
    turns = (counting, counting.transposed()) if staggered else (counting,)
    return min(one.sheets for turn in turns for one in candidates(turn, 0, mixed=staggered))
