"""Brows, in faces painted for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    INNER_MM,
    OUTER_MM,
    SKIN,
    brow_edges,
    face,
    frames,
    in_colour,
    in_mm,
    noise,
    painted,
    turned_round,
)
from tests.unit.picture.outline.contours.test_contour_lines import Floats, placed, places_of_grid
from worker.picture.outline.contours.features.brows import Brow, brows
from worker.picture.outline.contours.features.face_frames import face_frames
from worker.picture.outline.points.sampled_picture import SampledPicture


def found_in(picture: SampledPicture) -> tuple[Brow, ...]:
    return brows(*frames(), picture)


def edges_off_mm(brow: Brow) -> np.ndarray:
    """How far edges are from those that were painted."""
    off = []
    for found, edge in zip((brow.upper, brow.lower), (0, 1), strict=True):
        across, down = in_mm(brow.frame.on_grid(brow.across, found))
        off.append(down - brow_edges(np.abs(across))[edge])
    return np.array(off)


@pytest.mark.parametrize("blur", [1.0, 2.0])
def test_both_brows_are_found_where_they_are(blur: float) -> None:
    both = found_in(painted(blur=blur))
    assert [float(np.sign(one.across.mean())) for one in both] == [-1.0, 1.0]
    for one in both:
        off = np.abs(edges_off_mm(one))
        assert np.sqrt((off**2).mean()) < 0.15
        assert off.max() < 0.8
        out = np.abs(one.across) * 76
        # From end to end, but for what is thin.
        assert out.min() == pytest.approx(INNER_MM, abs=0.8)
        assert out.max() == pytest.approx(OUTER_MM, abs=1.2)


def test_a_brow_is_one_closed_line() -> None:
    for one in found_in(painted()):
        line = one.line()
        assert np.array_equal(line[0], line[-1])
        across, down = in_mm(line)
        upper, lower = brow_edges(np.abs(across))
        assert ((down > upper - 0.9) & (down < lower + 0.9)).all()


def test_a_brow_is_round_at_its_inner_end_and_runs_out_at_the_outer() -> None:
    """A tail comes to a point (common practice); between the ends it is as thick as painted."""
    for one in found_in(painted()):
        across, down = in_mm(one.line())
        out = np.abs(across)
        there = len(out) // 2 + 1

        def thick(at: float, out: Floats = out, down: Floats = down, there: int = there) -> float:
            upper = np.interp(at, out[:there], down[:there])
            return float(np.interp(at, out[: there - 2 : -1], down[: there - 2 : -1]) - upper)

        for at in (10.0, 13.0, 16.0):
            upper, lower = brow_edges(np.array([at]))
            assert thick(at) == pytest.approx(float(lower[0] - upper[0]), abs=0.5)
        assert thick(out.min() + 0.3) > 1.0
        assert thick(out.max() - 1.0) < 0.4
        # It never grows on its way out.
        ways = [thick(at) for at in np.linspace(18, out.max() - 0.1, 9)]
        assert (np.diff(ways) < 0).all()


def test_what_is_in_it_and_near_it_is_the_brow() -> None:
    one = found_in(painted())[0]
    across = np.array((-16, -16, -16, -16, -30)) / 76
    down = np.array((-9.5, -11.0, -14, -4, -9.5)) / 76
    assert one.covers(across, down).tolist() == [True, True, False, False, False]
    assert one.in_socket(across, down).tolist() == [True, False, False, True, False]


def test_in_a_mirrored_picture_brows_are_mirrored() -> None:
    laid, _ = frames()
    picture = painted()
    back, mirrored = turned_round(laid, picture)
    there = brows(back, face_frames(back, ()), mirrored)
    for one, other in zip(found_in(picture), there, strict=True):
        assert other.frame.hand == -one.frame.hand
        moved = other.line() * (-1, 1) + (picture.shape[1] - 1, 0)
        assert np.abs(one.line() - moved).max() * 0.25 < 0.4


@pytest.mark.parametrize("what", ["nothing", "noise", "hair"])
def test_where_no_brow_is_none_is_found(what: str) -> None:
    """Skin; blotches on it; hair that hangs over the eyes, with no skin above."""
    picture = painted(brows=False)
    _, y = places_of_grid()
    if what == "noise":
        picture = replace(picture, grey=noise(5, 8.0, 3.0))
    if what == "hair":
        picture = replace(picture, grey=np.where(y < 31, 60, picture.grey).astype(np.uint8))
    assert found_in(picture) == ()


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
    both = found_in(replace(picture, grey=grey, chroma=chroma))
    assert len(both) == 2
    assert in_mm(both[1].line())[0].max() < 98 - 75 + 1.0


def test_a_face_from_aside_has_no_frame() -> None:
    read = face()
    (one,) = read.faces
    near = replace(one.eyes[1], left=one.eyes[0].left + 0.1)
    aside = replace(read, faces=(replace(one, eyes=(one.eyes[0], near)),))
    assert face_frames(placed(aside), ()) == ()
