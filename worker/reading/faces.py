"""Boxes around faces, heads and eyes: suggestions, and nothing about whose they are."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from PIL import Image

from worker.reading.detections import VIEW_PX, Detection, detected, merged
from worker.reading.planes import Floats
from worker.spec.reading import Face
from worker.spec.spec import Area

#: A look from further off is this much wider than the picture. It finds faces that fill the
#: picture, which the look at the picture alone misses; smaller ones than this share of the longer
#: side are left to the others.
_WIDE, _FILLING = 1.6, 0.35
#: A face below this share of what is looked at is seen in a dozen pixels; it must be more likely.
_SMALL, _SMALL_LIKELY = 0.08, 0.7
#: Tiles of a closer look are this share of the longer side, and no further apart than this share
#: of themselves, so that a face of a quarter of a tile is whole in one.
_TILE = 0.5
_APART = 0.75
#: From the middle of the face's box, in its sides, along the face: the top of hair, the chin.
_HAIR, _CHIN = 0.95, 0.62
#: Across the face: ears and hair at either side.
_SIDE = 0.72
#: From an eye, in the face's sides: to either corner, to the brow, below the lower lid.
_CORNER, _BROW, _LID = 0.17, 0.17, 0.1
#: Boxes are rounded to this many digits: a share of a thousandth.
_DIGITS = 3


def find_faces(picture: Image.Image, *, closer: bool = False, threads: int = 2) -> tuple[Face, ...]:
    """Find the faces in a picture.

    Upright ones and those turned by up to a quarter are found from some 4.5 percent of the longer
    side on, with a closer look from half of that.

    Args:
        picture: Mode RGB, the whole upright reference, reduced.
        closer: Whether to look at overlapping tiles too; takes some four times as long.
        threads: How many work at once; the result is the same with any.

    Returns:
        From large to small.
    """
    found: list[Detection] = []
    longer = max(picture.size)
    for left, top, side in _looks(*picture.size, closer=closer):
        view, scale = _view(picture, left, top, side)
        seen = [_placed(one, scale, left, top) for one in detected(view, threads)]
        least = _FILLING * longer if side > longer else 0
        found += [one for one in seen if one.side() >= least and _credible(one, side)]
    found.sort(key=lambda one: -one.likely)
    faces = sorted(merged(found), key=lambda one: -one.area())
    return tuple(_face(one.values, picture.size) for one in faces)


def _credible(one: Detection, side: float) -> bool:
    return one.side() >= _SMALL * side or one.likely >= _SMALL_LIKELY


def _looks(width: int, height: int, *, closer: bool) -> Iterator[tuple[float, float, float]]:
    """Left, top and side of the squares that are looked at."""
    longer = max(width, height)
    for side in (longer, longer * _WIDE):
        yield (width - side) / 2, (height - side) / 2, side
    if closer:
        side = longer * _TILE
        for top in _starts(height, side):
            for left in _starts(width, side):
                yield left, top, side


def _starts(length: float, side: float) -> list[float]:
    """Where tiles begin, evenly, the first and the last at the ends."""
    if length <= side:
        return [(length - side) / 2]
    steps = math.ceil((length - side) / (side * _APART))
    return [(length - side) * step / steps for step in range(steps + 1)]


def _view(picture: Image.Image, left: float, top: float, side: float) -> tuple[Floats, float]:
    """What is in a square, as the network takes it, and how large a pixel of it is.

    Beyond the picture it is black, as published.
    """
    scale = side / VIEW_PX
    box = (
        max(left, 0),
        max(top, 0),
        min(left + side, picture.width),
        min(top + side, picture.height),
    )
    place = [round((start - edge) / scale) for start, edge in ((box[0], left), (box[1], top))]
    size = [max(round((box[2] - box[0]) / scale), 1), max(round((box[3] - box[1]) / scale), 1)]
    view = Image.new("RGB", (VIEW_PX, VIEW_PX))
    part = picture.resize((size[0], size[1]), Image.Resampling.BILINEAR, box=box)
    view.paste(part, (place[0], place[1]))
    return np.asarray(view, np.float32) / np.float32(127.5) - 1, scale


def _placed(found: Detection, scale: float, left: float, top: float) -> Detection:
    """In the picture's pixels."""
    moved = found.values.reshape(-1, 2) * np.float32(scale) + np.array([left, top], np.float32)
    return Detection(likely=found.likely, values=moved.ravel())


def _face(values: Floats, size: tuple[int, int]) -> Face:
    """Boxes from a face's box and points; the points end here."""
    start, stop, *points = values.reshape(-1, 2).astype(float)
    side = float(np.mean(stop - start))
    eyes, mouth = points[:2], points[3]
    up = (eyes[0] + eyes[1]) / 2 - mouth
    up = up / max(float(np.hypot(*up)), 1e-6)
    middle = (start + stop) / 2
    along = (_HAIR + _CHIN) / 2 * side
    head = middle + up * (_HAIR - _CHIN) / 2 * side
    height = (_BROW + _LID) / 2 * side
    return Face(
        box=_area(middle - (stop - start) / 2, middle + (stop - start) / 2, size),
        head=_oval(head, up, (_SIDE * side, along), size),
        eyes=tuple(
            _oval(eye + up * (_BROW - _LID) / 2 * side, up, (_CORNER * side, height), size)
            for eye in eyes
        ),
    )


def _oval(
    middle: np.ndarray, up: np.ndarray, half: tuple[float, float], size: tuple[int, int]
) -> Area:
    """The box around an oval that stands in a face's direction; half its width and height."""
    across = np.array([-up[1], up[0]])
    reach = np.hypot(across * half[0], up * half[1])
    return _area(middle - reach, middle + reach, size)


def _area(start: np.ndarray, stop: np.ndarray, size: tuple[int, int]) -> Area:
    """Cut at the picture's edges, and rounded: what is stored is a place, no measurement."""
    low = np.clip(start / size, 0, 1).round(_DIGITS)
    high = np.clip(stop / size, 0, 1).round(_DIGITS)
    left, top = low.tolist()
    width, height = (high - low).round(_DIGITS).tolist()
    return Area(left=left, top=top, width=width, height=height)
