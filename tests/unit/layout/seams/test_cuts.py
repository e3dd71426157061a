"""The optimum of the seams, against brute force over everything that is allowed."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from tests.folded import fold
from worker.layout.seams.cuts import LengthToCut, even_cuts, quietest_cuts
from worker.layout.seams.stagger import staggered_cuts


def strewn(seed: int, length: int) -> np.ndarray:
    return np.random.default_rng(seed).random(length + 1) ** 3 * 100


def brute_force(length: LengthToCut, costs: np.ndarray) -> float:
    """The least cost over every way to place whole-millimetre cuts, for one kind."""
    count, (capacity,) = length.counts[0], length.capacities_mm
    whole = int(length.length_mm)
    cuts = np.array(list(combinations(range(1, whole), count - 1)))
    sizes = np.diff(cuts, axis=1, prepend=0, append=whole)
    laps = np.array([length.lap_mm] * (count - 1) + [0.0])
    fits = (sizes + laps <= capacity).all(axis=1) & (sizes >= length.shortest_mm).all(axis=1)
    return float(costs[cuts[fits]].sum(axis=1).min())


@fold(
    ("seed", range(12)),
    ("count, capacity, lap", [(2, 31, 0), (3, 24, 0), (3, 27, 4), (4, 17, 2)]),
)
def test_one_kind_of_piece_against_brute_force(
    seed: int, count: int, capacity: int, lap: int
) -> None:
    length = LengthToCut(
        length_mm=52.0,
        capacities_mm=(float(capacity),),
        counts=(count,),
        shortest_mm=7.0,
        lap_mm=float(lap),
    )
    costs = strewn(seed, 52)
    found = quietest_cuts(length, lambda at: costs[np.rint(at).astype(int)])
    assert found is not None
    assert found.cost == pytest.approx(brute_force(length, costs), abs=1e-4)
    assert sum(costs[round(at)] for at in found.at_mm) == pytest.approx(found.cost, abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_two_kinds_of_piece_in_any_order_against_brute_force(seed: int) -> None:
    length = LengthToCut(length_mm=60.0, capacities_mm=(30.0, 18.0), counts=(1, 2), shortest_mm=6.0)
    costs = strewn(seed, 60)
    best = np.inf
    for cuts in combinations(range(1, 60), 2):
        sizes = np.diff([0, *cuts, 60])
        orders = ((30, 18, 18), (18, 30, 18), (18, 18, 30))
        fits = any(all(s <= c for s, c in zip(sizes, order, strict=True)) for order in orders)
        if fits and (sizes >= 6).all():
            best = min(best, float(costs[cuts[0]] + costs[cuts[1]]))
    found = quietest_cuts(length, lambda at: costs[np.rint(at).astype(int)])
    assert found is not None
    assert found.cost == pytest.approx(best, abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_staggered_rows_against_brute_force(seed: int) -> None:
    """Three rows of three pieces, neighbours' cuts at least 4 mm apart."""
    length = LengthToCut(length_mm=40.0, capacities_mm=(17.0,), counts=(3,), shortest_mm=8.0)
    costs = [strewn(seed * 10 + row, 40) for row in range(3)]
    every = np.array(list(combinations(range(1, 40), 2)))
    sizes = np.diff(every, axis=1, prepend=0, append=40)
    ways = every[((sizes >= 8) & (sizes <= 17)).all(axis=1)]
    apart = np.abs(ways[:, None, :, None] - ways[None, :, None, :]).min(axis=(2, 3)) >= 4
    # Every way of the first and the last row beside every one of the middle row.
    sums = [cost[ways].sum(axis=1) for cost in costs]
    beside = [np.where(apart, sums[row][:, None], np.inf).min(axis=0) for row in (0, 2)]
    best = float((beside[0] + sums[1] + beside[1]).min())

    def solve(row: int, barred: tuple[tuple[float, float], ...]) -> object:
        def cost(at: np.ndarray) -> np.ndarray:
            values = costs[row][np.rint(at).astype(int)].copy()
            for low, high in barred:
                values[(at > low) & (at < high)] = np.inf
            return values

        return quietest_cuts(length, cost)

    found = staggered_cuts(3, solve, 4.0)
    assert found is not None
    assert sum(cut.cost for cut in found) == pytest.approx(best, abs=1e-4)


def test_where_the_search_gives_up_rows_still_keep_apart() -> None:
    length = LengthToCut(length_mm=40.0, capacities_mm=(17.0,), counts=(3,), shortest_mm=8.0)

    def solve(row: int, barred: tuple[tuple[float, float], ...]) -> object:  # noqa: ARG001
        def cost(at: np.ndarray) -> np.ndarray:
            values = np.abs(at - 20.0)
            for low, high in barred:
                values[(at > low) & (at < high)] = np.inf
            return values

        return quietest_cuts(length, cost)

    found = staggered_cuts(3, solve, 4.0, most_nodes=0)
    assert found is not None
    for above, below in pairwise(found):
        assert min(abs(one - other) for one in above.at_mm for other in below.at_mm) >= 4


def test_without_slack_the_only_cuts_are_found() -> None:
    length = LengthToCut(length_mm=571.5, capacities_mm=(190.5,), counts=(3,), shortest_mm=40.0)
    found = quietest_cuts(length, np.zeros_like)
    assert found is not None
    assert found.at_mm == pytest.approx((190.5, 381.0))


def test_too_few_pieces_give_none() -> None:
    length = LengthToCut(length_mm=401.0, capacities_mm=(200.0,), counts=(2,), shortest_mm=40.0)
    assert quietest_cuts(length, np.zeros_like) is None


def test_blank_pictures_are_split_evenly() -> None:
    length = LengthToCut(length_mm=300.0, capacities_mm=(120.0,), counts=(3,), shortest_mm=40.0)
    found = quietest_cuts(length, np.zeros_like)
    assert found is not None
    assert found.at_mm == pytest.approx((100.0, 200.0), abs=0.5)
    assert even_cuts(length, (0, 0, 0)) == pytest.approx((100.0, 200.0))
