"""Promises of outlines: every line comes out whole and in order, every curve is near its line."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from worker.picture.outline.curve_fitting import TOLERANCE, fit_curves
from worker.picture.outline.points.chains import chains_of
from worker.picture.outline.points.sampled_picture import LINE_SIGMA_MM
from worker.picture.outline.polylines import MOST_MOVED, Polylines, corners, smoothed_polylines

Links = npt.NDArray[np.int32]


@st.composite
def linked(draw: st.DrawFn) -> Links:
    """Points in random order, joined to open lines, rings and single ones."""
    sizes = draw(st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=1, max_size=8))
    total = sum(size for size, _ in sizes)
    number = np.array(draw(st.permutations(range(total))))
    flipped = np.array(draw(st.lists(st.booleans(), min_size=total, max_size=total)))
    link = np.full((total, 2), -1, np.int32)
    begun = 0
    for size, closed in sizes:
        line = number[begun : begun + size]
        link[line[:-1], 1], link[line[1:], 0] = line[1:], line[:-1]
        if closed and size > 2:
            link[line[-1], 1], link[line[0], 0] = line[0], line[-1]
        begun += size
    link[flipped] = link[flipped][:, ::-1]
    return link


@given(linked())
def test_every_line_comes_out_whole_and_in_order(link: Links) -> None:
    """Held against scipy's connected components."""
    count = len(link)
    one, side = np.nonzero(link >= 0)
    graph = coo_array((np.ones(len(one)), (one, link[one, side])), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    chains = chains_of(link)
    assert len(chains) == (np.bincount(label) > 1).sum()
    for number, closed in enumerate(chains.closed):
        line = chains.order[chains.first[number] : chains.first[number + 1]]
        assert (link[line[:-1]] == line[1:, None]).any(axis=1).all()
        assert closed == (line[0] == line[-1])
        members = line[:-1] if closed else line
        assert sorted(members.tolist()) == np.flatnonzero(label == label[line[0]]).tolist()


@st.composite
def walks(draw: st.DrawFn) -> Polylines:
    """A line that turns at random, a quarter of a millimetre at every step."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count, wild = draw(st.integers(2, 200)), draw(st.floats(0.0, 1.0))
    angle = np.cumsum(random.normal(0, wild, count))
    steps = 0.25 * np.stack((np.cos(angle), np.sin(angle)), axis=1)
    return Polylines(
        places=np.cumsum(steps, axis=0), first=np.array([0, count]), closed=np.array([False])
    )


@settings(max_examples=60)
@given(walks())
def test_no_place_is_further_from_its_curve_than_promised(lines: Polylines) -> None:
    steady = smoothed_polylines(lines, corners(lines), MOST_MOVED * LINE_SIGMA_MM)
    curves = fit_curves(lines).points
    t = np.linspace(0, 1, 200)[:, None, None]
    a, b, c, d = curves.transpose(1, 0, 2)[:, None]
    drawn = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t * t * (1 - t) * c + t**3 * d
    away, _ = cKDTree(drawn.reshape(-1, 2)).query(steady.places)
    assert away.max() <= TOLERANCE * LINE_SIGMA_MM + 0.01
    # Before it was steadied, a place was no further away than that and what it was moved by.
    away, _ = cKDTree(drawn.reshape(-1, 2)).query(lines.places)
    assert away.max() <= (TOLERANCE + MOST_MOVED) * LINE_SIGMA_MM + 0.01
    assert np.array_equal(curves[1:, 0], curves[:-1, 3])
