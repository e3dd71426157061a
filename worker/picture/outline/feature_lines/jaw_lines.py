"""What is missing of jaws, joined to what is there; and how heavy what is there is at least."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.features.found_face import FoundFace
from worker.picture.outline.contours.features.jaws import Jaw
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import Points
from worker.spec.strokes import PLAIN

#: A jaw is drawn where it is within so much of a line, in sides of the face; a gap is so long at
#: least, and its ends reach so far for the next line, ahead by this cosine.
_NEAR, _LEAST_LONG, _REACHES, _AHEAD = 0.01, 0.005, 0.04, 0.7
#: How clear a jaw is in a gap, on the mean and at every place.
_SEEN, _HARDLY_SEEN = 0.45, 0.2
#: Others run beside a gap if all of it is nearer to them than this, in its lengths; or if one has
#: both of its ends, and so many times its length or less between them.
_AWAY, _BESIDE = 0.3, 3.0
#: Pixels from one line to the next, along all of them.
_APART = 1e4
_BOTH = 2
#: A line runs along a jaw if so much of it does.
_MOSTLY = 0.6


def missing_jaws(jaws: Sequence[Jaw], points: Points, chains: Chains) -> list[Doubles]:
    """Parts of jaws that no line has, in pixels of the grid: (places, 2) each.

    Args:
        jaws: Those of faces.
        points: All points.
        chains: Lines that are drawn.
    """
    x, y, owner = points.x[chains.order], points.y[chains.order], chains.owner
    # Along all lines one after the other, each far from the next.
    along = np.cumsum(np.hypot(np.diff(x, prepend=x[:1]), np.diff(y, prepend=y[:1])), dtype=float)
    from_end = np.minimum(along - along[chains.first[owner]], along[chains.first[owner + 1] - 1] - along)
    drawn = np.stack((x, y, along + owner * _APART, from_end), axis=1)
    return [part for jaw in jaws for part in _missing(jaw, _near(jaw, drawn))]


def jaw_weights(
    faces: Sequence[FoundFace], points: Points, chains: Chains, weight: npt.NDArray[np.uint8]
) -> npt.NDArray[np.uint8]:
    """Weights where no line along a jaw is as light as a fold: it bounds the face.

    Args:
        faces: Those whose features were found.
        points: All points.
        chains: Lines that are drawn.
        weight: Of each.
    """
    along = np.zeros(len(points), np.float32)
    x, y = points.x[chains.order], points.y[chains.order]
    for face in faces:
        along[chains.order[face.has(face.bound, x, y)]] = 1
    return np.where(chains.means(along) > np.float32(_MOSTLY), np.maximum(weight, PLAIN), weight)


def _near(jaw: Jaw, drawn: Doubles) -> Doubles:
    """What of lines is around a jaw."""
    far, places = _REACHES * jaw.side, drawn[:, :2]
    low, high = jaw.line.min(axis=0) - far, jaw.line.max(axis=0) + far
    return np.asarray(drawn[((places > low) & (places < high)).all(axis=1)])


def _missing(jaw: Jaw, drawn: Doubles) -> list[Doubles]:
    """Gaps between lines whose places, and how far along, are known."""
    if not len(drawn):
        return []
    # A face that fills a mural has lines by the metre around: one place at a time.
    off = np.array([_off(place, drawn).min() for place in jaw.line])
    gap = (off > _NEAR * jaw.side) & (jaw.seen > _HARDLY_SEEN)
    change = np.flatnonzero(np.diff(gap.astype(np.int8), prepend=0, append=0))
    found = []
    for first, last in zip(change[::2], change[1::2], strict=True):
        line = jaw.line[first:last]
        long = float(np.hypot(*np.diff(line, axis=0).T).sum())
        seen = jaw.seen[first:last].mean() > _SEEN
        if long < _LEAST_LONG * jaw.side or off[first:last].max() < _AWAY * long or not seen:
            continue
        ends = np.concatenate([_next(one, drawn, jaw.side) for one in (line[::-1], line)])
        # Where no line ends, one wanders a little from the jaw, or another crosses it.
        real = ends[:, 3].min(initial=np.inf) < _REACHES * jaw.side
        if len(ends) == _BOTH and real and abs(ends[1, 2] - ends[0, 2]) > _BESIDE * long:
            found.append(np.concatenate((ends[:1, :2], line, ends[1:, :2])))
    return found


def _off(place: Doubles, drawn: Doubles) -> Doubles:
    across, down = drawn[:, 0] - place[0], drawn[:, 1] - place[1]
    return np.asarray(np.sqrt(across * across + down * down))


def _next(line: Doubles, drawn: Doubles, side: float) -> Doubles:
    """The nearest place of another line ahead of a line's end, if one is near: (0 or 1, 3)."""
    off = _off(line[-1], drawn)
    way = (line[-1] - line[-2]) / np.hypot(*(line[-1] - line[-2]))
    ahead = (drawn[:, :2] - line[-1]) @ way > _AHEAD * off
    far = np.where(ahead, off, np.inf)
    return drawn[[far.argmin()]] if far.min() < _REACHES * side else drawn[:0]
