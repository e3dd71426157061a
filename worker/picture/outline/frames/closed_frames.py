"""Frames closed: where three sides end, the picture has edges of a fourth, or there is no frame.

A window's sides are often clear on three of four, and the sill lies in shade. So the fourth side is
looked for along the two that face each other, where these end, and is taken where most edges are.
All four are then fitted to the picture's edges along them, and meet in sharp corners.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from worker.picture.outline.frames.alike import alike, fourths
from worker.picture.outline.frames.painted_edges import Found, PaintedEdges, inwards
from worker.picture.outline.frames.three_sides import SHORTEST_MM, ThreeSides, three_sides
from worker.picture.outline.points.nearness import within
from worker.picture.outline.polylines import Flags, Floats
from worker.picture.outline.ruling.segments import SeenEdges

#: A fourth side lies between these parts of the sides that it closes, so many steps apart, and
#: leans from the first one by these parts of its length, if edges are so much better there.
_NEAREST, _FURTHEST, _STEPS, _LEANS, _BETTER = 0.85, 1.15, 28, (-0.06, 0.0, 0.06), 0.85
#: A fourth side is looked at in so many places; before that in so few, of which it has some.
_LOOKED, _GLANCE, _SOME = 10, 4, 0.3
#: Each side has edges over such a part of it at least, and all together over the second one; and
#: those of a frame that is certain by itself, and of such contrast.
_EACH, _ALL = 0.4, 0.65
_SURELY_EACH, _SURELY_ALL, _SURELY_LEVELS = 0.5, 0.8, 20.0
#: One that is neither certain nor like others has so much of each side.
_ALONE = 0.6
#: A fourth frame beside three has edges over so much of it, and of each side; and comes last.
_FOURTH, _FOURTH_EACH, _LAST = 0.6, 0.3, 1000.0
#: Sides that face each other run together within so many mm, and by no more than they do in steep
#: perspective: by a mm for each so many between them.
_FACING_MM, _VANISHING_MM = 0.8, 250.0
#: How often sides are fitted.
_FITTED = 3
#: Sides that face each other have so much of each other's length, and no side is so many times as
#: long as another.
_ALIKE, _NARROW = 0.65, 8.0
#: Frames whose corners are all nearer than this are the same.
_SAME_MM = 5.0
#: So many threes are looked at together, which bounds memory; and the likeliest frames are drawn,
#: so many: more than these are a pattern.
_TOGETHER, _MOST = 1500, 400


@dataclass(frozen=True, kw_only=True, eq=False)
class Frames:
    """Frames that are closed.

    Attributes:
        corners: In mm of the picture; (frames, 4, 2).
        dark: Whether what is inside is darker than what is outside.
        likely: How much of each the picture has, in levels.
        share: How much of each has edges, 0 to 1.
        least: The same of the side that has the fewest.
        sure: Which have edges nearly all around.
        alike: Which have another one like them in their row or column.
    """

    corners: Floats
    dark: Flags
    likely: Floats
    share: Floats
    least: Floats
    sure: Flags
    alike: Flags

    def __len__(self) -> int:
        """How many."""
        return len(self.likely)

    def taken(self, which: Flags | list[int]) -> Frames:
        """Some of them."""
        names = Frames.__dataclass_fields__
        return Frames(**{name: getattr(self, name)[which] for name in names})


def frames_of(seen: SeenEdges, drawn: Flags, painted: PaintedEdges | None = None) -> Frames:
    """Frames that edges have, the likeliest first.

    Args:
        seen: The edges.
        drawn: Which of their segments have lines along them.
        painted: The edges once more, if they are painted already.
    """
    sides, painted = three_sides(seen.segments, drawn), painted or PaintedEdges(seen.edges)
    some = range(0, len(sides), _TOGETHER) or [0]
    parts = [_closed(sides.taken(slice(at, at + _TOGETHER)), painted) for at in some]
    corners, dark = (np.concatenate(each) for each in zip(*parts, strict=True))
    for _ in range(_FITTED):
        corners = _fitted(corners, _along(corners, dark, painted))
    found = _measured(_in_perspective(corners), dark, painted)
    # What is cut by the picture's edge is closed nowhere.
    inside = ((found.corners > 0) & (found.corners < seen.edges.size_mm)).all(axis=(1, 2))
    found = _distinct(found.taken(inside & (found.least > _EACH) & (found.share > _ALL)))
    found = replace(found, alike=alike(found.corners))
    found = found.taken(found.alike | found.sure | (found.least > _ALONE))
    return _with_fourths(found, painted)


def _measured(corners: Floats, dark: Flags, painted: PaintedEdges) -> Frames:
    """Those that are as long as the sides of frames, with what the picture has of them."""
    length = _lengths(corners)
    good = (length.min(axis=1, initial=np.inf) > SHORTEST_MM) & _shapely(length)
    corners, dark, length = corners[good], dark[good], length[good]
    found = _along(corners, dark, painted)
    each, contrast = found.share.reshape(-1, 4), found.levels.reshape(-1, 4)
    share, levels = ((of * length).sum(axis=1) / length.sum(axis=1) for of in (each, contrast))
    least = each.min(axis=1, initial=1)
    sure = (least > _SURELY_EACH) & (share > _SURELY_ALL)
    return Frames(
        corners=corners,
        dark=dark,
        likely=share * levels,
        share=share,
        least=least,
        sure=sure & (contrast.min(axis=1, initial=np.inf) > _SURELY_LEVELS),
        alike=np.zeros(len(corners), np.bool_),
    )


def _with_fourths(frames: Frames, painted: PaintedEdges) -> Frames:
    """With fourth ones beside three, of which half is seen."""
    corners, column = fourths(frames.corners[frames.alike])
    # Many groups of three lack the same one.
    places = np.rint(corners / _SAME_MM).reshape(len(corners), 8)
    once = np.unique(places, axis=0, return_index=True)[1][:_TOGETHER]
    corners, column = corners[once], column[once]
    found = _measured(corners, frames.dark[frames.alike][column], painted)
    found = found.taken((found.share > _FOURTH) & (found.least > _FOURTH_EACH))
    found = replace(found, alike=np.ones(len(found), np.bool_), likely=found.likely / _LAST)
    whole = Frames(
        **{
            name: np.concatenate((getattr(frames, name), getattr(found, name)))
            for name in Frames.__dataclass_fields__
        }
    )
    return _distinct(whole)


def _closed(sides: ThreeSides, painted: PaintedEdges) -> tuple[Floats, Flags]:
    """Four corners of each that has a fourth side, and what is dark inside."""
    long = np.stack(_reaching(sides, painted))
    # Most have nothing where a fourth side could be, which is seen at a glance.
    some = _across(sides, long, (0.0,), painted, _GLANCE).share.max(axis=1) > _SOME
    sides, long = sides.taken(some), long[:, some]
    found = _across(sides, long, _LEANS, painted, _LOOKED)
    value = found.share * found.levels
    value *= np.where(np.repeat(_LEANS, _STEPS) == 0, 1, _BETTER)
    best = value.argmax(axis=1)
    at = np.arange(len(best))
    good = found.share[at, best] > _EACH
    corners = np.stack((sides.one, sides.two, found.two[at, best], found.one[at, best]), axis=1)
    return corners[good], sides.dark[good]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Fourths:
    """Supposed fourth sides: their ends, and what there is of edges; (threes, supposed)."""

    one: Floats
    two: Floats
    share: Floats
    levels: Floats


def _across(
    sides: ThreeSides, long: Floats, leans: tuple[float, ...], painted: PaintedEdges, many: int
) -> _Fourths:
    """Sides across at some heights, each leaning some ways, looked at in so many places."""
    base = sides.two - sides.one
    across = base / np.hypot(*base.T)[:, None]
    rise_one, rise_two = (
        np.abs(way[:, 0] * across[:, 1] - way[:, 1] * across[:, 0])
        for way in (sides.way_one, sides.way_two)
    )
    one, two = long[0] * rise_one, long[1] * rise_two
    low, high = _NEAREST * np.minimum(one, two), _FURTHEST * np.maximum(one, two)
    steps, lean = np.meshgrid(np.linspace(0, 1, _STEPS), leans)
    height = low[:, None] + steps.ravel() * (high - low)[:, None]
    leaning = lean.ravel() * np.hypot(*base.T)[:, None]
    ends = [
        (place[:, None] + ((height + more) / rise[:, None])[:, :, None] * way[:, None])
        for place, way, rise, more in (
            (sides.one, sides.way_one, rise_one, 0.0),
            (sides.two, sides.way_two, rise_two, leaning),
        )
    ]
    dark = np.repeat(sides.dark, height.shape[1])
    found = painted.along(ends[1].reshape(-1, 2), ends[0].reshape(-1, 2), dark, many)
    share, levels = (each.reshape(height.shape) for each in (found.share, found.levels))
    return _Fourths(one=ends[0], two=ends[1], share=share, levels=levels)


def _reaching(sides: ThreeSides, painted: PaintedEdges) -> tuple[Floats, Floats]:
    """How long the sides are that face each other, with the edges beyond their segments."""
    one, two = (
        long + painted.beyond(place + long[:, None] * way, way, way[:, ::-1] * turn, sides.dark)
        for place, way, long, turn in (
            (sides.one, sides.way_one, sides.long_one, (1, -1)),
            (sides.two, sides.way_two, sides.long_two, (-1, 1)),
        )
    )
    return one, two


def _along(corners: Floats, dark: Flags, painted: PaintedEdges) -> Found:
    """What there is of edges along each side."""
    start, stop = corners.reshape(-1, 2), np.roll(corners, -1, axis=1).reshape(-1, 2)
    return painted.along(start, stop, np.repeat(dark, 4))


def _fitted(corners: Floats, found: Found) -> Floats:
    """Corners where sides cross that lie on the edges."""
    start, stop = corners, np.roll(corners, -1, axis=1)
    inside = inwards(stop - start)
    aside = found.aside.reshape(-1, 4, 2)
    start, stop = start + aside[..., :1] * inside, stop + aside[..., 1:] * inside
    return _crossing(start, stop - start)


def _lengths(corners: Floats) -> Floats:
    way = np.roll(corners, -1, axis=1) - corners
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))


def _shapely(length: Floats) -> Flags:
    """Which sides are as long as those of a rectangle seen in perspective."""
    facing = length.reshape(-1, 2, 2)
    alike = facing.min(axis=1) > _ALIKE * facing.max(axis=1)
    narrow = length.max(axis=1, initial=0) > _NARROW * length.min(axis=1, initial=np.inf)
    return np.asarray(alike.all(axis=1) & ~narrow)


def _in_perspective(corners: Floats) -> Floats:
    """Corners of sides that run together no more than those of a rectangle may.

    What runs together more has its sides turned about their middles to the direction between.
    """
    way = np.roll(corners, -1, axis=1) - corners
    length = np.maximum(np.hypot(way[..., 0], way[..., 1]), 1e-9)
    unit = way / length[..., None]
    facing = np.roll(unit, -2, axis=1)
    sine = np.abs(unit[..., 0] * facing[..., 1] - unit[..., 1] * facing[..., 0])
    mean = (length + np.roll(length, -2, axis=1)) / 2
    most = _FACING_MM / mean + np.roll(mean, -1, axis=1) / _VANISHING_MM
    between = unit - facing
    between /= np.maximum(np.hypot(between[..., 0], between[..., 1]), 1e-9)[..., None]
    way = np.where((sine > most)[..., None], between, unit)
    return _crossing(corners + length[..., None] * unit / 2, way)


def _crossing(places: Floats, way: Floats) -> Floats:
    """Where each side crosses the one before; places and ways of sides, (frames, 4, 2)."""
    before, way_before = np.roll(places, 1, axis=1), np.roll(way, 1, axis=1)
    sine = way_before[..., 0] * way[..., 1] - way_before[..., 1] * way[..., 0]
    rest = places - before
    far = (rest[..., 0] * way[..., 1] - rest[..., 1] * way[..., 0]) / np.where(sine == 0, 1, sine)
    return np.asarray(before + far[..., None] * way_before)


def _distinct(frames: Frames) -> Frames:
    """Of those that are the same the likeliest, the likeliest first."""
    corners = frames.corners
    middle = corners.mean(axis=1)
    # Corners that are all as near have middles that are.
    one, two = within(middle, middle, _SAME_MM)
    off = [np.roll(corners, by, axis=1)[one] - corners[two] for by in range(4)]
    far = np.stack([np.hypot(each[..., 0], each[..., 1]).max(axis=1) for each in off]).min(axis=0)
    same = [list[int]() for _ in range(len(frames))]
    for a, b in zip(one[far <= _SAME_MM].tolist(), two[far <= _SAME_MM].tolist(), strict=True):
        same[a].append(b)
    kept: list[int] = []
    taken: set[int] = set()
    for at in np.argsort(-frames.likely, kind="stable").tolist():
        if len(kept) == _MOST:
            break
        if taken.isdisjoint(same[at]):
            kept.append(at)
            taken.add(at)
    return frames.taken(kept)
