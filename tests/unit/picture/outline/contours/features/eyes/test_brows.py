"""Brows, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.features.painted_faces import (
    EYES,
    INNER_MM,
    LID_MM,
    OFF,
    OUTER_MM,
    SKIN,
    brow_edges,
    in_colour,
    in_mm,
    lid,
    marks,
    mirrored,
    noise,
    painted,
    part,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats, places_of_grid
from worker.picture.outline.contours.features.eyes.brows import Brow, brows
from worker.picture.outline.contours.features.face_part import FacePart, face_part
from worker.picture.outline.points.sampled_picture import SampledPicture

#: A brow that is lowered is so far below its landmarks.
HANGS_MM = 2.5


def edges_mm(seen: FacePart, brow: Brow) -> tuple[tuple[Floats, Floats], ...]:
    """Both edges from between the eyes: across and down."""
    upper, lower = (in_mm(seen.on_grid(edge)) for edge in (brow.upper, brow.lower))
    return upper, lower


@pytest.mark.parametrize("off", OFF)
@pytest.mark.parametrize("blur", [1.0, 2.0])
def test_both_brows_are_found_where_they_are(blur: float, off: tuple[float, float]) -> None:
    seen = part(painted(blur=blur), off)
    both = brows(seen)
    assert [np.sign(in_mm(seen.on_grid(one.middle))[0].mean()) for one in both] == [-1.0, 1.0]
    for one in both:
        edges = edges_mm(seen, one)
        out = np.abs(edges[0][0])
        # Between its round end and its tail.
        here = (out > INNER_MM + 2.5) & (out < OUTER_MM - 6.0)
        below = [
            down[here] - brow_edges(np.abs(across[here]))[edge]
            for edge, (across, down) in enumerate(edges)
        ]
        assert np.sqrt(np.square(below).mean()) < 0.15
        assert np.abs(below).max() < 0.8
        # From end to end, but for what is thin.
        assert out.min() == pytest.approx(INNER_MM, abs=0.8)
        assert out.max() == pytest.approx(OUTER_MM, abs=1.2)


def test_a_brow_is_one_closed_line() -> None:
    seen = part(painted())
    both = brows(seen)
    assert len(both) == 2
    for one in both:
        line = one.outline
        assert np.array_equal(line[0], line[-1])
        across, down = in_mm(seen.on_grid(line))
        upper, lower = brow_edges(np.abs(across))
        assert ((down > upper - 0.9) & (down < lower + 0.9)).all()


def test_a_brow_is_round_at_its_inner_end_and_runs_out_at_the_outer() -> None:
    """A tail comes to a point (common practice); between the ends it is as thick as painted."""
    seen = part(painted())
    both = brows(seen)
    assert len(both) == 2
    for one in both:
        thick = np.hypot(*(seen.on_grid(one.upper) - seen.on_grid(one.lower)).T) * 0.25
        out = np.abs(in_mm(seen.on_grid(one.middle))[0])
        for at in (10.0, 13.0, 16.0):
            upper, lower = brow_edges(np.array([at]))
            assert np.interp(at, out, thick) == pytest.approx(float(lower[0] - upper[0]), abs=0.5)
        assert np.interp(out.min() + 0.5, out, thick) > 1.0
        assert thick[-1] < 0.1
        # It never grows on its way out.
        assert (np.diff(thick[out > OUTER_MM - 5.0]) < 0).all()


def test_in_a_mirrored_picture_brows_are_mirrored() -> None:
    picture = painted()
    seen = part(picture)
    back, places = mirrored(picture, marks())
    there = face_part(places, back)
    assert len(brows(seen)) == 2
    for one, other in zip(brows(seen), brows(there)[::-1], strict=True):
        for line, turned in ((one.upper, other.upper), (one.lower, other.lower)):
            moved = there.on_grid(turned) * (-1, 1) + (picture.shape[1] - 1, 0)
            assert np.abs(seen.on_grid(line) - moved).max() * 0.25 < 0.4


@pytest.mark.parametrize("what", ["nothing", "noise", "hair"])
def test_where_no_brow_is_none_is_found(what: str) -> None:
    """Skin; blotches on it; hair that hangs over the eyes, with no skin above."""
    picture = painted(brows=False)
    _, y = places_of_grid()
    if what == "noise":
        picture = replace(picture, grey=noise(5, 8.0, 3.0))
    if what == "hair":
        picture = replace(picture, grey=np.where(y < 31, 60, picture.grey).astype(np.uint8))
    assert brows(part(picture)) == ()


def test_a_brow_ends_where_the_face_does() -> None:
    """Behind the face there are light slats with dark gaps, level with the brow."""
    x, y = places_of_grid()
    picture = painted()
    colours = np.broadcast_to(np.array(SKIN, np.float64), (*x.shape, 3)).copy()
    slats = np.where(np.abs(y - 27.0) < 1.2, 150.0, 245.0)
    colours[x > 98] = slats[x > 98][:, None]
    behind = in_colour(colours)
    grey = np.where(x > 98, behind.grey, picture.grey)
    half = x[::2, ::2] > 98
    chroma = tuple(
        np.where(half, one, other) for one, other in zip(behind.chroma, picture.chroma, strict=True)
    )
    seen = part(replace(picture, grey=grey, chroma=chroma))
    both = brows(seen)
    assert len(both) == 2
    assert in_mm(seen.on_grid(both[1].outline))[0].max() < 98 - 75 + 1.0


def test_a_brow_that_hangs_over_the_lid_is_found_where_eyes_are_seen() -> None:
    """It is lower than its landmarks, and shade is between it and the lid."""
    x, y = places_of_grid()
    out, down = np.abs(x - 75.0), y - EYES[0][1]
    upper, _ = brow_edges(out)
    picture = painted(brows=False, eyes=True)
    hair = (out > INNER_MM) & (out < OUTER_MM) & (down > upper + HANGS_MM)
    hair &= down < lid(x - np.where(x < 75, EYES[0][0], EYES[1][0]), LID_MM)
    grey = np.where(hair, 70.0, picture.grey)
    seen = part(replace(picture, grey=gaussian_filter(grey, 1.5).astype(np.uint8)))
    assert brows(seen) == ()
    both = brows(seen, eyes=True)
    assert [one.overhanging for one in both] == [True, True]
    for one in both:
        across, edge = in_mm(seen.on_grid(one.upper))
        # Between its round end and its tail.
        here = (np.abs(across) > INNER_MM + 3) & (np.abs(across) < OUTER_MM - 9)
        below = edge[here] - brow_edges(np.abs(across[here]))[0] - HANGS_MM
        assert np.abs(below).max() < 0.8


def shaded(levels: float) -> SampledPicture:
    """Eyes in sockets that are darker from the brows' upper edges down, with no edge below."""
    x, y = places_of_grid()
    out, down = np.abs(x - 75.0), y - EYES[0][1]
    upper, _ = brow_edges(out)
    picture = painted(brows=False, eyes=True)
    socket = (out > INNER_MM) & (out < OUTER_MM) & (down > upper) & (down < 6.0)
    soft = gaussian_filter(np.where(socket, levels, 0.0), 1.5)
    return replace(picture, grey=(picture.grey - soft).astype(np.uint8))


def test_of_a_brow_in_a_shaded_socket_the_upper_edge_is_found() -> None:
    """Where eyes are seen: else it may be what glasses cover."""
    seen = part(shaded(22.0))
    assert brows(seen) == ()
    both = brows(seen, eyes=True)
    assert [one.overhanging for one in both] == [True, True]
    assert [np.sign(in_mm(seen.on_grid(one.upper))[0].mean()) for one in both] == [-1.0, 1.0]
    for one in both:
        across, edge = in_mm(seen.on_grid(one.upper))
        out = np.abs(across)
        # From the inner end outwards.
        assert out[0] < out[-1]
        here = (out > INNER_MM + 2) & (out < OUTER_MM - 3)
        assert np.ptp(out) > 12
        assert np.abs(edge[here] - brow_edges(out[here])[0]).max() < 0.8


@pytest.mark.parametrize("what", ["nothing", "noise", "faint", "hair"])
def test_where_nothing_is_over_eyes_that_are_seen_no_brow_is_found(what: str) -> None:
    picture = shaded(7.0 if what == "faint" else 0.0)
    _, y = places_of_grid()
    if what == "noise":
        blotches = noise(7, 6.0, 3.0) - 170.0
        picture = replace(picture, grey=(picture.grey + blotches).astype(np.uint8))
    if what == "hair":
        picture = replace(picture, grey=np.where(y < 31, 60, picture.grey).astype(np.uint8))
    assert brows(part(picture), eyes=True) == ()
