"""Linked points in order, and what is left of them."""

from __future__ import annotations

import numpy as np

from worker.picture.outline.points.chains import Chains


def test_parts_of_lines_where_some_places_stay() -> None:
    """A ring of which all stays is whole; what is one place is no line."""
    chains = Chains(
        order=np.array([5, 6, 7, 5, 1, 2, 3, 4]),
        first=np.array([0, 4, 8]),
        closed=np.array([True, False]),
    )
    stays = np.array([True, True, True, True, True, False, True, True])
    parts, of, at = chains.parts(stays)
    assert parts.order.tolist() == [5, 6, 7, 5, 3, 4]
    assert parts.first.tolist() == [0, 4, 6]
    assert parts.closed.tolist() == [True, False]
    assert of.tolist() == [0, 1]
    assert at.tolist() == [0, 1, 2, 3, 6, 7]
    stays[1] = False
    parts, of, _ = chains.parts(stays)
    assert parts.order.tolist() == [7, 5, 3, 4]
    assert not parts.closed.any()
    assert of.tolist() == [0, 1]


def test_halves_have_all_lines_in_order_and_as_many_points() -> None:
    """Lines are whole in either half; a single one, or none, is in one of them."""
    lines = [[5, 6, 7, 5], [1, 2], [3, 4], [9, 8, 0]]
    chains = chains_from(lines)
    one, two = chains.halves()
    assert one.order.tolist() + two.order.tolist() == chains.order.tolist()
    assert (one.first.tolist(), two.first.tolist()) == ([0, 4, 6], [0, 2, 5])
    assert (one.closed.tolist(), two.closed.tolist()) == ([True, False], [False, False])
    for few in ([[1, 2, 3]], []):
        assert sum(len(half) for half in chains_from(few).halves()) == len(few)


def test_a_line_spans_the_way_from_end_to_end() -> None:
    """Rings span nothing; two lines have sides of 3 and 4, and of 5 and 12."""
    x, y = np.array([[0, 9, 3, 1, 6], [0, 9, 4, 1, 13]], np.float32)
    chains = chains_from([[0, 1, 2], [1, 3, 2, 1], [3, 4]])
    assert chains.spans(x, y).tolist() == [5, 0, 13]
    assert len(chains_from([]).spans(x, y)) == 0


def chains_from(lines: list[list[int]]) -> Chains:
    """Lines of points, of which those that end where they begin are rings."""
    return Chains(
        order=np.array([point for line in lines for point in line], np.int64),
        first=np.cumsum([0, *map(len, lines)]),
        closed=np.array([line[0] == line[-1] for line in lines], np.bool_),
    )
