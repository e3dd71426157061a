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
