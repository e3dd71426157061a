"""What stands is ruled as a whole, where it waves about what is upright."""

from __future__ import annotations

import tracemalloc

import numpy as np

from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.fitting import Stretches
from worker.picture.outline.ruling.uprights import Uprights
from worker.picture.outline.ruling.whole_sides import with_whole_sides

#: All that stands leans by two percent.
LEANS = Uprights(lean=np.array((0.02, 0.0, 0.0)))
DOWN = np.arange(0.0, 80.0, 0.5)


def wall(off: np.ndarray) -> Polylines:
    """A line down that is so far aside of what leans so."""
    return Polylines.of([np.stack((100 + 0.02 * DOWN + off, DOWN), axis=1)])


def pieces(*ends: tuple[int, int]) -> Stretches:
    begin, end = np.array(ends, np.int64).reshape(-1, 2).T
    return Stretches(
        begin=begin,
        end=end,
        middle=np.zeros((len(begin), 2)),
        way=np.tile((0.0, 1.0), (len(begin), 1)),
    )


def ruled(off: np.ndarray, found: Stretches) -> Stretches:
    lines = wall(off)
    return with_whole_sides(lines, np.full(len(DOWN), 0.6), found, LEANS)


#: Stones 5 mm high stick out in turn.
QUOINS = 0.9 * np.sign(np.sin(DOWN * np.pi / 5))


def test_a_wall_whose_quoins_stick_out_is_one_line() -> None:
    whole = ruled(QUOINS, pieces((0, 60), (70, 150)))
    assert len(whole) == 1
    assert whole.end[0] - whole.begin[0] > 140
    slope = whole.way[0, 0] / whole.way[0, 1]
    # No end is further from upright than a stone sticks out.
    assert abs(slope - 0.02) * 40 < 0.9


def test_pieces_that_are_most_of_it_stay() -> None:
    most = pieces((0, 150))
    assert np.array_equal(ruled(QUOINS, most).end, most.end)


def test_what_slants_or_is_off_by_more_stays_in_pieces() -> None:
    found = pieces((0, 60), (70, 150))
    for off in (0.3 * DOWN, np.where(DOWN > 40, 12.0, 0.0), 5 * np.sin(DOWN / 6)):
        assert np.array_equal(ruled(off, found).begin, found.begin)


def test_the_line_before_and_after_keeps_its_pieces() -> None:
    lines = wall(QUOINS)
    level = np.stack((np.arange(0.0, 90.0, 0.5), np.zeros(180)), axis=1)
    both = Polylines.of([level, lines.places])
    found = pieces((0, 170), (200, 240))
    whole = with_whole_sides(both, np.full(len(both.places), 0.6), found, LEANS)
    assert whole.begin[0] == 0
    assert whole.end[0] == 170
    assert len(whole) == 2
    assert whole.end[1] - whole.begin[1] > 140


def test_many_walls_in_many_pieces_take_little_memory() -> None:
    """All with all took eight bytes for each pair, three times."""
    one, many = wall(QUOINS).places, 400
    lines = Polylines.of([one + np.array((20.0 * at, 0.0)) for at in range(many)])
    ends = [
        (at * len(one) + a, at * len(one) + a + 6) for at in range(many) for a in range(0, 150, 8)
    ]
    found, near = pieces(*ends), np.full(len(lines.places), 0.6)
    tracemalloc.start()
    try:
        whole = with_whole_sides(lines, near, found, LEANS)
        most = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert len(whole) == many
    assert most < many * len(found) * 8
