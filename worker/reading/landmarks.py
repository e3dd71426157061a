"""Landmarks of a face: where its lips, lids, irises, brows, nose and jaw are.

They are looked for while lines are drawn, are in memory only, and are kept nowhere. A face is seen
three times: as the face finder boxed it, then, laid level and framed by what was found, as it is
and mirrored. The mean of both is taken, and each says one eye; so a mirrored face has the mirrored
landmarks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from PIL import Image

from worker.reading.landmark_numbers import MIRRORED, RIGHT_EYE, RIGHT_IRIS
from worker.reading.level import Doubles, level_box, turned, unit
from worker.reading.mesh import VIEW_PX, mesh_outputs, mesh_weights
from worker.reading.planes import Floats
from worker.spec.reading import Face
from worker.spec.spec import Area

#: A view is so many times as wide as the face in it, as published.
_AROUND = 1.5
#: From these log odds on it is a face, as published: as likely as not.
_LEAST_ODDS = 0.0
#: Outer corners of the right and the left eye.
_CORNERS = [33, 263]
#: What a view and its mirrored view do not both say.
_OWN_SIDE = [*RIGHT_EYE, *RIGHT_IRIS]


@dataclass(frozen=True, kw_only=True, eq=False)
class Landmarks:
    """Of one face.

    Attributes:
        points: (478, 2), across and down in the picture's pixels, by the published numbers
            (`worker.reading.landmark_numbers` has those that are looked for); NaN for the others.
        likely: That it is a face, 0.5 to 1.
    """

    points: Floats
    likely: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Frame:
    """A turned square of a picture: its middle, its side, and what is to the right in it."""

    middle: Doubles
    side: float
    right: Doubles

    def turn(self) -> Doubles:
        """From a square of side 1 into the picture, its middle aside."""
        return turned(self.right) * self.side


def face_landmarks(picture: Image.Image, face: Face, *, threads: int = 1) -> Landmarks | None:
    """Look for the landmarks of a face.

    Args:
        picture: Mode RGB, the whole upright reference at any size; finest where a face is some
            130 pixels wide.
        face: Where it is in the picture, as `worker.reading.faces.find_faces` says it.
        threads: How many work at once; the result is the same with any.

    Returns:
        None if no face is seen there.
    """
    frame = _boxed(face, picture.size)
    (odds,), (rough,) = _seen(_view(picture, frame)[None], closer=False, threads=threads)
    if odds < _LEAST_ODDS:
        return None
    frame = _framed(_placed(rough, frame))
    view = _view(picture, frame)
    # Both in one pass: most layers are so small that calling them takes as long.
    both_odds, (ahead, aback) = _seen(np.stack((view, view[:, ::-1])), threads=threads)
    odds = float(both_odds.mean(dtype=np.float64))
    if odds < _LEAST_ODDS:
        return None
    aback = (aback * np.array([-1, 1], np.float32))[MIRRORED]
    points, mirrored = _placed(ahead, frame), _placed(aback, frame)
    mean = (points + mirrored) * np.float32(0.5)
    mean[_OWN_SIDE], other = points[_OWN_SIDE], MIRRORED[_OWN_SIDE]
    mean[other] = mirrored[other]
    return Landmarks(points=mean, likely=1 / (1 + math.exp(-odds)))


def _seen(views: Floats, *, closer: bool = True, threads: int) -> tuple[Floats, Floats]:
    """What the network says of views, from their middles in parts of their sides."""
    odds, points = mesh_outputs(mesh_weights(), views, closer=closer, threads=threads)
    return odds, np.asarray(points / VIEW_PX - np.float32(0.5), np.float32)


def _placed(places: Floats, frame: _Frame) -> Floats:
    """Places of a frame's view in the picture's pixels."""
    return np.asarray(places @ frame.turn().T + frame.middle, np.float32)


def _boxed(face: Face, size: tuple[int, int]) -> _Frame:
    """A frame around a face's box, level with its eyes."""
    start, stop = (_corner(face.box, size, end) for end in (0, 1))
    eyes = [(_corner(eye, size, 0) + _corner(eye, size, 1)) / 2 for eye in face.eyes]
    return _Frame(
        middle=(start + stop) / 2,
        side=float((stop - start).max()) * _AROUND,
        right=unit(eyes[1] - eyes[0]),
    )


def _corner(area: Area, size: tuple[int, int], end: int) -> Doubles:
    return np.array([area.left + end * area.width, area.top + end * area.height]) * size


def _framed(points: Floats) -> _Frame:
    """A frame around landmarks, level with the eyes."""
    turn, low, high = level_box(points, *points[_CORNERS])
    side = float((high - low).max()) * _AROUND
    return _Frame(middle=turn @ ((low + high) / 2), side=side, right=turn[:, 0])


def _view(picture: Image.Image, frame: _Frame) -> Floats:
    """What is in a frame, (192, 192, 3) of 0 to 1; beyond the picture its border is repeated."""
    # An upright square around the turned one, in pixels of the view.
    scale = max(frame.side, 1) / VIEW_PX
    count = math.ceil(VIEW_PX * float(np.abs(frame.right).sum())) + 2
    corner = frame.middle - count * scale / 2
    around = _repeated(picture, corner, scale, count)
    turn = turned(frame.right)
    start = np.full(2, count / 2) - turn @ np.full(2, VIEW_PX / 2)
    places = (turn[0, 0], turn[0, 1], start[0], turn[1, 0], turn[1, 1], start[1])
    view = around.transform(
        (VIEW_PX, VIEW_PX), Image.Transform.AFFINE, places, Image.Resampling.BILINEAR
    )
    return np.asarray(view, np.float32) / np.float32(255)


def _repeated(picture: Image.Image, corner: Doubles, scale: float, count: int) -> Image.Image:
    """A square of so many pixels, each of a size in the picture, whose border is repeated."""
    size = np.array(picture.size)
    before = np.clip(np.ceil(-corner / scale), 0, count - 1).astype(int)
    after = np.clip(np.ceil((corner + count * scale - size) / scale), 0, count - 1 - before)
    inside = count - before - after.astype(int)
    low = np.clip(corner + before * scale, 0, size - 1e-3)
    high = np.clip(low + inside * scale, low + 1e-3, size)
    part = picture.resize(
        (int(inside[0]), int(inside[1])),
        Image.Resampling.BILINEAR,
        box=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
    )
    rims = [(int(before[axis]), int(count - before[axis] - inside[axis])) for axis in (1, 0)]
    return Image.fromarray(np.pad(np.asarray(part), (*rims, (0, 0)), "edge"))
