"""Short strokes in faces whose features are drawn, which say nothing beside them.

What is left between features is shade, stubble, gloss and the ends of folds. A portrait
draughtsman draws a fold that is long for the face, once, and leaves the rest of a cheek, a forehead
or a neck white, and hair within a head's outline in few and long strands (common practice).
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Ints
from worker.picture.outline.contours.features.bounds.bound import Bound
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.contours.features.landmarks import BRIDGE
from worker.picture.outline.feature_lines.beside_bounds import beside
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.nearness import ends_met
from worker.picture.outline.points.running_beside import beside_better
from worker.spec.strokes import INNER

#: So much of a stray lies beside features; it is shorter than this, in widths of the face.
_WHOLLY, _SHORT = 0.9, 0.13
#: A line that curls up is no longer than so many times as far as it reaches.
_CURLED = 1.2
#: A fold has two edges, so near to each other in widths of the face, and as parallel; one of them
#: runs so far beside the longer one.
_FOLD, _PARALLEL, _MOSTLY, _TWO = 0.05, 0.8, 0.6, 2
#: One point in so many is looked at, or so many within what is as near as that: else work would
#: grow with the cube of a face. They are looked at so many at a time.
_EVERY, _WITHIN, _AT_ONCE = 3, 20, 2000
#: A scrap of hair is shorter than this by its likelihood, in sides of the face, and so far on a
#: border at most; a loose one of a head by the first of these, or if it hangs on others by one end
#: by the second. It hangs on what is as near as this, in sides.
_SHORT_IN_HAIR, _BORDER, _SHORT_LOOSE, _HANGS = 0.08, 0.35, (0.25, 0.12), 0.02
#: A line between features is drawn if what it is likelier than the first is as long as the second,
#: in mm as printed: the smaller a face, the fewer of its folds are drawn.
_LIKELIER, _LEAST_MM = 0.5, 5.0
#: What bounds a form by more than this is not loose, nor what is as near to a hairline, in sides.
_BOUNDS, _BY_BOUND = 0.68, 0.08

#: All of a head and a neck is as near to between the brows, in sides.
_HEAD = 1.5

_Region = Callable[[Floats, Floats], npt.NDArray[np.bool_]]


def strays(
    points: Points, chains: Chains, beside: Floats, face_px: Floats, *, texture: float
) -> npt.NDArray[np.bool_]:
    """Which lines are strays: open ones that are short for a face, or a fold's other edge.

    Args:
        points: All points.
        chains: Lines that are drawn.
        beside: 1 for points in a face beside its features, 0 for others.
        face_px: Width of the face that a point is in, in pixels of the grid.
        texture: How far texture is wanted, 0 to 1: where all is, nothing is a stray.
    """
    wide = np.float32(1 - texture) * chains.means(face_px)
    inside = (chains.means(beside) > np.float32(_WHOLLY)) & ~chains.closed
    reaches = chains.lengths(points.x, points.y)
    some = _CURLED * _reaches(points, chains.taken(inside))
    reaches[inside] = np.minimum(reaches[inside], some)
    found = inside & (reaches < np.float32(_SHORT) * wide)
    return np.asarray(found | _doubled(points, chains, inside & ~found, wide))


def _reaches(points: Points, chains: Chains) -> Floats:
    """How far each line reaches: the diagonal of the box that it is in."""
    if not len(chains):
        return np.zeros(0, np.float32)
    sides = [
        np.maximum.reduceat(one, chains.first[:-1]) - np.minimum.reduceat(one, chains.first[:-1])
        for one in (points.x[chains.order], points.y[chains.order])
    ]
    return np.asarray(np.hypot(*sides))


def _doubled(
    points: Points, chains: Chains, which: npt.NDArray[np.bool_], wide: Floats
) -> npt.NDArray[np.bool_]:
    """Which of some lines run beside a longer one of them: the other edge of the same fold."""
    if which.sum() < _TWO or not wide[which].any():
        return np.zeros(len(chains), np.bool_)
    at = _thinned(chains, which, wide)
    owner, beside = chains.owner[at], np.zeros(len(chains.order), np.bool_)
    rank = np.empty(len(chains), np.int64)
    rank[np.argsort(chains.lengths(points.x, points.y), kind="stable")] = np.arange(len(chains))
    # From the narrowest face on: what is near in a wide one is far in others.
    by_width = np.argsort(wide[owner], kind="stable")
    for some in np.array_split(by_width, len(at) // _AT_ONCE + 1):
        # Lines are no nearer to each other than a pixel, and cells that are smaller are too many.
        reach_px = max(1.0, float(_FOLD * wide[owner[some]].max()))
        one, _, far = beside_better(
            points, chains, rank, (at[some], at), reach_px=reach_px, cosine=_PARALLEL
        )
        beside[one[far < _FOLD * wide[chains.owner[one]]]] = True
    count = np.bincount(owner, minlength=len(chains))
    return np.asarray(
        np.bincount(chains.owner, beside, len(chains)) > _MOSTLY * np.maximum(count, 1)
    )


def _thinned(chains: Chains, which: npt.NDArray[np.bool_], wide: Floats) -> Ints:
    """Places of some lines, fewer in wide faces."""
    owner = chains.owner
    at = np.flatnonzero(which[owner])
    every = np.maximum(np.rint(_FOLD / _WITHIN * wide), _EVERY).astype(np.int64)
    return np.asarray(at[np.arange(len(at)) % every[owner[at]] == 0])


def head_strays(
    faces: Sequence[FoundFace],
    points: Points,
    chains: Chains,
    shares: tuple[Floats, Floats, Floats, Floats],
    *,
    texture: float,
) -> npt.NDArray[np.bool_]:
    """Which lines are scraps of a head or a neck: open, short, and no part of an outline.

    In hair a line that hangs on others at both ends closes a form; one that hangs on nothing says
    little unless it is long, and nothing beside one that is worth more. Ears have short lines by
    themselves. What is doubtful between features, as gloss on a cheek, is drawn in a large face
    alone.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        shares: How far points are of a figure, and on its border; how likely a person would draw a
            line there, and how likely that bounds a form; each 0 to 1.
        texture: How far texture is wanted, as above.
    """
    found = np.zeros(len(chains), np.bool_)
    long = chains.lengths(points.x, points.y)
    figure, border, likely, outer = (chains.means(one) for one in shares)
    inner = ~chains.closed & (figure > np.float32(_WHOLLY)) & (border < np.float32(_BORDER))
    loose = inner & (likely * outer < np.float32(_BOUNDS))
    x, y, worth = points.x[chains.order], points.y[chains.order], likely * long
    for face in faces:
        side_px = np.float32(face.part.side_on_grid * (1 - texture))
        here = _around(face, x, y, chains, _WHOLLY)
        surely_mm = (likely - np.float32(_LIKELIER)) * long * np.float32(face.part.pitch_mm)
        doubtful = here & ~chains.closed & (surely_mm < np.float32(_LEAST_MM * (1 - texture)))
        found |= _within(points, chains, doubtful, functools.partial(face.has, face.inside))
        short = here & inner & (worth < _SHORT_IN_HAIR * side_px)
        oval, neck = (functools.partial(face.has, one) for one in (face.oval, face.neck))
        for region in (face.above_brows, oval, neck):
            found |= _within(points, chains, short, region)
        little = loose & (worth < _SHORT_LOOSE[0] * side_px)
        some = _within(points, chains, here & little & ~found, face.hair)
        some &= ~_along((face.hairline,), points, chains, some)
        hangs_px = max(float(_HANGS * side_px), 1.0)
        hangs = ends_met(points, chains, some, hangs_px, on=~little)
        found |= some & (worth < np.take((*_SHORT_LOOSE, 0.0), hangs) * side_px)
        if texture == 0:
            found |= _second(face, points, chains, here & inner & ~found, worth)
    return found


def _around(
    face: FoundFace, x: Floats, y: Floats, chains: Chains, share: float
) -> npt.NDArray[np.bool_]:
    """Which lines have more than a share of their places, whose order is the lines', near a head.

    All others lie in none of its regions: a picture has many, and a head is small.
    """
    middle = face.part.on_grid(face.part.along(BRIDGE[:1]))[0].astype(np.float32)
    far = np.float32(_HEAD * face.part.side_on_grid)
    near = (np.abs(x - middle[0]) < far) & (np.abs(y - middle[1]) < far)
    return np.asarray(
        np.bincount(chains.owner[near], minlength=len(chains)) > share * chains.counts
    )


def _aside(face: FoundFace, x: Floats, y: Floats) -> npt.NDArray[np.bool_]:
    """Which places are of hair and temples, and not between features."""
    there = face.hair(x, y) | face.above_brows(x, y) | face.has(face.oval, x, y)
    return np.asarray(there & ~face.has(face.inside, x, y))


def _second(
    face: FoundFace, points: Points, chains: Chains, which: npt.NDArray[np.bool_], worth: Floats
) -> npt.NDArray[np.bool_]:
    """Which of some lines run in hair or a temple beside one of them that is worth more."""
    wide = np.full(len(chains), face.part.side_on_grid, np.float32)
    at = _thinned(chains, which, wide)
    x, y = points.x[chains.order[at]], points.y[chains.order[at]]
    owner, count = chains.owner[at], np.bincount(chains.owner[at], minlength=len(chains))
    aside = np.bincount(owner, _aside(face, x, y), len(chains)) > _WHOLLY * count
    if aside.sum() < _TWO:
        return np.zeros(len(chains), np.bool_)
    at = at[aside[owner]]
    rank = np.argsort(np.argsort(worth, kind="stable"), kind="stable")
    reach_px = max(_FOLD * face.part.side_on_grid, 1.0)
    beside = np.zeros(len(chains.order), np.bool_)
    for some in np.array_split(at, len(at) // _AT_ONCE + 1):
        one, _, _ = beside_better(
            points, chains, rank, (some, at), reach_px=reach_px, cosine=_PARALLEL
        )
        beside[one] = True
    doubled = np.bincount(chains.owner, beside, len(chains)) > _MOSTLY * count
    return np.asarray(aside & doubled)


def strand_weights(
    faces: Sequence[FoundFace],
    points: Points,
    chains: Chains,
    shares: tuple[Floats, Floats, Floats, Floats],
    weight: npt.NDArray[np.uint8],
) -> npt.NDArray[np.uint8]:
    """Weights where strands within hair are light: its outline and what bounds a face are not.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        shares: As above.
        weight: Of each.
    """
    figure, border, likely, outer = (chains.means(one) for one in shares)
    inner = ~chains.closed & (figure > np.float32(_WHOLLY)) & (border < np.float32(_BORDER))
    inner &= (likely * outer < np.float32(_BOUNDS)) & (weight > INNER)
    found = np.zeros(len(chains), np.bool_)
    x, y = points.x[chains.order], points.y[chains.order]
    for face in faces:
        here = _around(face, x, y, chains, _MOSTLY)
        some = _within(points, chains, here & inner, face.hair, _MOSTLY)
        found |= some & ~_along((face.hairline, face.jaw), points, chains, some)
    return np.where(found, np.uint8(INNER), weight)


def _along(
    bounds: Sequence[Bound], points: Points, chains: Chains, which: npt.NDArray[np.bool_]
) -> npt.NDArray[np.bool_]:
    """Which of some lines run along bounds of a face, for the most part."""

    def along(some: Chains) -> npt.NDArray[np.bool_]:
        there = np.zeros(len(some.order), np.bool_)
        for one in bounds if len(some) else ():
            near = beside(one.line, points, some, _BY_BOUND * one.side)
            there[near.at[near.along > _PARALLEL]] = True
        return there

    return _for_more_than(_MOSTLY, chains, which, along)


def _within(
    points: Points,
    chains: Chains,
    which: npt.NDArray[np.bool_],
    has: _Region,
    share: float = _WHOLLY,
) -> npt.NDArray[np.bool_]:
    """Which of some lines lie in a region, with more than a share of each."""
    return _for_more_than(
        share, chains, which, lambda some: has(points.x[some.order], points.y[some.order])
    )


def _for_more_than(
    share: float,
    chains: Chains,
    which: npt.NDArray[np.bool_],
    there: Callable[[Chains], npt.NDArray[np.bool_]],
) -> npt.NDArray[np.bool_]:
    """Which of some lines are there for more than a share of their places."""
    some = chains.taken(which)
    found = np.zeros(len(chains), np.bool_)
    found[which] = np.bincount(some.owner, there(some), len(some)) > share * some.counts
    return found
