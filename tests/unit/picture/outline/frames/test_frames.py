"""Windows are closed frames with sharp corners, and lines along them give way."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from tests.unit.picture.outline.given_edges import edges_along
from worker.picture.outline.frames.closed_frames import Frames, frames_of
from worker.picture.outline.frames.giving_way import framed, given_way
from worker.picture.outline.polylines import Polylines
from worker.picture.outline.ruling.segments import PictureEdges, SeenEdges, segments_of
from worker.picture.outline.ruling.straightening import Ruled
from worker.spec.strokes import FORM, INNER, PLAIN

Way = list[tuple[float, float]]
#: A window seen a little from the side, around which it is light; clockwise in the picture.
WINDOW = [(40.0, 30.0), (64.0, 32.0), (64.0, 68.0), (40.0, 70.0)]


def found(edges: PictureEdges, undrawn: int = 0) -> Frames:
    """Frames of edges, of whose segments the first so many have no lines along them."""
    segments = segments_of(edges)
    drawn = np.arange(len(segments)) >= undrawn
    return frames_of(SeenEdges(edges=edges, segments=segments), drawn)


def off(frame: np.ndarray, corners: Way) -> float:
    """How far the corners of a frame are from those that are nearest."""
    apart = np.array(corners)[:, None] - frame
    return float(np.hypot(apart[..., 0], apart[..., 1]).min(axis=1).max())


@pytest.mark.parametrize("dark", [True, False])
def test_four_sides_are_a_frame_with_sharp_corners(dark: bool) -> None:  # noqa: FBT001
    """Corners are within the 0.3 mm that known drawings are held to, though edges are round."""
    ring = [*WINDOW, WINDOW[0]]
    frames = found(edges_along(ring if dark else ring[::-1]))
    assert len(frames) == 1
    assert off(frames.corners[0], WINDOW) < 0.3


def test_a_frame_of_whose_sides_one_is_drawn_is_none() -> None:
    """Two are enough, as the reading may have lost the others; both at one corner, as here."""
    edges = edges_along(*([WINDOW[at], WINDOW[(at + 1) % 4]] for at in range(4)))
    assert [len(found(edges, undrawn)) for undrawn in range(5)] == [1, 1, 1, 0, 0]


def test_sides_that_end_short_of_corners_meet_there() -> None:
    sides = []
    for (ax, ay), (bx, by) in zip(WINDOW, WINDOW[1:] + WINDOW[:1], strict=True):
        sides.append([(ax + s * (bx - ax), ay + s * (by - ay)) for s in (0.1, 0.9)])
    frames = found(edges_along(*sides))
    assert len(frames) == 1
    assert off(frames.corners[0], WINDOW) < 0.3


def test_a_side_that_bars_break_is_a_side() -> None:
    left = [[(40.0, y + 7.0), (40.0, y)] for y in (62.0, 53.0, 44.0, 35.0)]
    frames = found(edges_along(WINDOW[:3], [(64.0, 68.0), (40.0, 70.0)], *left))
    assert off(frames.corners[0], WINDOW) < 0.5


def test_a_fourth_side_needs_edges_of_its_own() -> None:
    """Half of a sill in shade is enough, and nothing is not."""
    assert not len(found(edges_along([WINDOW[3], *WINDOW[:3]])))
    half = [(58.0, 68.5), (45.0, 69.6)]
    frames = found(edges_along([WINDOW[3], *WINDOW[:3]], half))
    assert len(frames) == 1
    assert off(frames.corners[0], WINDOW) < 0.5


def test_what_is_dark_on_one_side_and_light_on_another_is_no_frame() -> None:
    """Four walls that turn around nothing: the inside is neither."""
    sides = [[WINDOW[at], WINDOW[(at + 1) % 4]] for at in range(4)]
    sides[1].reverse()
    assert not len(found(edges_along(*sides)))


def test_round_and_slanting_forms_are_no_frames() -> None:
    turns = np.linspace(0, math.tau, 60)
    ring = [(60 + 20 * math.cos(t), 60 + 20 * math.sin(t)) for t in turns]
    assert not len(found(edges_along(ring)))
    slanting = [(40.0, 40.0), (80.0, 40.0), (110.0, 60.0), (70.0, 60.0), (40.0, 40.0)]
    assert not len(found(edges_along(slanting)))


def line(*ends: tuple[float, float], step: float = 0.5) -> np.ndarray:
    parts = [np.array(ends[:1])]
    for start, stop in pairwise(ends):
        many = int(math.dist(start, stop) / step)
        share = np.arange(1, many + 1)[:, None] / many
        parts.append(np.array(start) + share * (np.array(stop) - start))
    return np.concatenate(parts)


def polylines(*lines: np.ndarray) -> Polylines:
    return Polylines(
        places=np.concatenate(lines),
        first=np.cumsum([0, *map(len, lines)]),
        closed=np.zeros(len(lines), np.bool_),
    )


def frames(*corners: Way, sure: bool = True, like: bool = False) -> Frames:
    many = len(corners)
    return Frames(
        corners=np.array(corners),
        dark=np.ones(many, np.bool_),
        likely=np.ones(many),
        share=np.ones(many),
        least=np.ones(many),
        sure=np.full(many, sure),
        alike=np.full(many, like),
    )


def ruled(lines: Polylines, *, built: bool = True, straight: bool = True) -> Ruled:
    return Ruled(
        lines=lines,
        built=np.full(len(lines.closed), built),
        straight=np.full(len(lines.places), straight),
    )


WOBBLE = line((39.0, 31.0), (52.0, 30.0), (65.0, 33.0), (63.0, 50.0), (65.0, 67.0), (41.0, 69.0))


def test_a_line_along_a_frame_gives_way_to_it() -> None:
    way = given_way(ruled(polylines(WOBBLE)), np.array([FORM], np.uint8), frames(WINDOW))
    assert not way.stays.any()
    assert way.weight.tolist() == [FORM]
    assert way.frames.closed.tolist() == [True]
    assert off(way.frames.places, WINDOW) < 1e-9


def test_what_runs_elsewhere_stays() -> None:
    """A gutter past a window, a line that ends on it, and a line of a hand."""
    gutter = line((30.0, 20.0), (30.0, 80.0))
    ends = line((64.0, 50.0), (90.0, 52.0))
    lines = polylines(WOBBLE, gutter, ends)
    weight = np.array([PLAIN, INNER, INNER], np.uint8)
    way = given_way(ruled(lines), weight, frames(WINDOW))
    assert way.stays[len(WOBBLE) :].all()
    grown = given_way(ruled(lines, built=False), weight, frames(WINDOW))
    assert grown.stays.all()
    assert not len(grown.weight)


def test_a_frame_that_hardly_any_line_has_is_not_drawn() -> None:
    few = polylines(line((40.0, 30.0), (64.0, 32.0)))
    way = given_way(ruled(few), np.array([PLAIN], np.uint8), frames(WINDOW))
    assert way.stays.all()
    assert not len(way.weight)


def test_a_bar_between_two_panes_is_drawn_once() -> None:
    """Nearer than two pencil lines (1.2 mm) two sides are one."""
    beside = [(64.8, 32.0), (90.0, 34.0), (90.0, 66.0), (64.8, 68.0)]
    more = line((64.0, 32.0), (90.0, 34.0), (90.0, 66.0), (64.0, 68.0))
    lines = polylines(WOBBLE, more)
    weight = np.array([PLAIN, PLAIN], np.uint8)
    way = given_way(ruled(lines), weight, frames(WINDOW, beside))
    assert way.frames.closed.tolist() == [True, False]
    second = way.frames.places[way.frames.first[1] :]
    assert not (np.abs(second - (64.8, 50.0)).max(axis=1) < 10).any()
    assert off(second, beside) < 1e-9


def test_where_no_edges_are_known_all_stays() -> None:
    lines = polylines(WOBBLE)
    way = framed(ruled(lines), np.array([PLAIN], np.uint8))
    assert way.stays.all()
    assert not len(way.frames.closed)


def test_a_frame_that_the_picture_cuts_is_none() -> None:
    """Its sides meet beyond the edge, where nothing is drawn."""
    turned = [(-3.0, 50.0), (30.0, 20.0), (60.0, 53.0), (27.0, 83.0)]
    seen = [(turned[0][0] + 6.0, turned[0][1] - 6.0 * 30 / 33), turned[1], turned[2], turned[3]]
    last = (turned[0][0] + 6.0, turned[0][1] + 6.0 * 33 / 30)
    whole = [(x + 100.0, y) for x, y in [*seen, last]]
    assert len(found(edges_along(whole))) == 1
    assert not len(found(edges_along([*seen, last])))


def test_what_another_frame_has_not_of_a_side_is_drawn() -> None:
    """A wide window under a narrower one: of its top the rest beyond that."""
    wide = [(40.0, 68.5), (75.0, 68.5), (75.0, 90.0), (40.0, 90.0)]
    narrow = [(42.0, 30.0), (70.0, 30.0), (70.0, 68.0), (42.0, 68.0)]
    around = [line(*corners, corners[0]) for corners in (narrow, wide)]
    weight = np.array([PLAIN, PLAIN], np.uint8)
    way = given_way(ruled(polylines(*around)), weight, frames(narrow, wide))
    top = way.frames.places[np.abs(way.frames.places[:, 1] - 68.5) < 1e-9]
    beyond = top[(top[:, 0] > 71.5) & (top[:, 0] < 74.9)]
    assert len(beyond) > 5
    assert not ((top[:, 0] > 43.5) & (top[:, 0] < 68.5)).any()


def test_a_row_of_near_sides_is_thinned_and_not_lost() -> None:
    """Nearer than two pencil lines to the last one that is drawn, not to one that is not."""
    row = [
        [(x, 30.0), (60.0 + 20 * at, 30.0), (60.0 + 20 * at, 70.0), (x, 70.0)]
        for at, x in enumerate((20.0, 21.1, 22.2, 23.3))
    ]
    around = [line(*corners, corners[0]) for corners in row]
    weight = np.full(4, PLAIN, np.uint8)
    way = given_way(ruled(polylines(*around)), weight, frames(*row))
    middle = way.frames.places[np.abs(way.frames.places[:, 1] - 50.0) < 1.0]
    left = np.unique(middle[middle[:, 0] < 30, 0].round(3))
    assert left.tolist() == [20.0, 22.2]


def test_a_window_half_open_is_one_beside_its_like() -> None:
    """Of one window edges are all around, of the next a side and a half are missing."""
    whole = [(20.0, 30.0), (34.0, 30.0), (34.0, 60.0), (20.0, 60.0), (20.0, 30.0)]
    left, right = [(52.0, 60.0), (52.0, 30.0)], [(66.0, 30.0), (66.0, 45.0)]
    top, bottom = [(52.0, 30.0), (66.0, 30.0)], [(60.0, 60.0), (52.5, 60.0)]
    both = found(edges_along(whole, left, top, right, bottom))
    assert len(both) == 2
    assert both.alike.all()
    alone = found(edges_along(left, top, right, bottom))
    assert not alone.sure.any()


def test_sides_that_run_together_too_fast_are_turned() -> None:
    """A high window is no wedge: no perspective does that within 12 mm."""
    wedge = [(40.0, 30.0), (52.0, 30.0), (48.0, 70.0), (40.0, 70.0), (40.0, 30.0)]
    for corners in found(edges_along(wedge)).corners:
        way = np.roll(corners, -1, axis=0) - corners
        way /= np.hypot(*way.T)[:, None]
        assert abs(way[1, 0] * way[3, 1] - way[1, 1] * way[3, 0]) < 0.09


def test_one_that_is_open_must_be_drawn_nearly_all_around() -> None:
    weight = np.array([FORM], np.uint8)
    for like, drawn in ((False, False), (True, True)):
        open_one = frames(WINDOW, sure=False, like=like)
        way = given_way(ruled(polylines(WOBBLE)), weight, open_one)
        assert bool(len(way.weight)) == drawn


def test_fray_beside_a_frame_gives_way_and_a_straight_line_does_not() -> None:
    """Quoins 4 mm beside a window wander to and fro; so near a lintel is straight."""
    teeth = [(36.0 - at % 2, 31.0 + 4.0 * at) for at in range(10)]
    lines = polylines(WOBBLE, line(*teeth))
    weight = np.array([PLAIN, PLAIN], np.uint8)
    way = given_way(ruled(lines, straight=False), weight, frames(WINDOW))
    assert not way.stays[len(WOBBLE) :].any()
    kept = given_way(ruled(lines, straight=True), weight, frames(WINDOW))
    assert kept.stays[len(WOBBLE) :].all()


def test_a_frame_that_lines_have_on_two_sides_only_is_not_drawn() -> None:
    """The tiles of a roof between its two edges; along a third side it is a frame."""
    wide = [(40.0, 30.0), (72.0, 30.0), (72.0, 46.0), (40.0, 46.0)]
    edges = (line((20.0, 30.0), (90.0, 30.0)), line((20.0, 46.0), (90.0, 46.0)))
    third = line((72.0, 30.0), (72.0, 46.0))
    for lines, drawn in ((edges, False), ((*edges, third), True)):
        weight = np.full(len(lines), PLAIN, np.uint8)
        way = given_way(ruled(polylines(*lines)), weight, frames(wide))
        assert (len(way.weight) > 0) == drawn


def test_what_crosses_a_side_does_not_run_along_it() -> None:
    """A hatching across a frame is near to all of its sides."""
    hatching = [line((x, 20.0), (x + 30.0, 80.0)) for x in np.arange(10.0, 66.0, 1.5)]
    way = given_way(
        ruled(polylines(*hatching)), np.full(len(hatching), PLAIN, np.uint8), frames(WINDOW)
    )
    assert not len(way.weight)


def test_what_a_small_frame_is_set_in_stays() -> None:
    """The side of a box 3.5 mm beside a label on it, which is 7 mm high."""
    label = [(40.0, 30.0), (56.0, 30.0), (56.0, 37.0), (40.0, 37.0)]
    box = line((36.5, 20.0), (36.4, 33.0), (36.5, 50.0))
    lines = polylines(line(*label, label[0]), box)
    weight = np.array([PLAIN, FORM], np.uint8)
    way = given_way(ruled(lines, straight=False), weight, frames(label))
    assert way.stays[-len(box) :].all()
    assert not way.stays[: -len(box)].any()
