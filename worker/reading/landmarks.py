"""Landmarks of a face: where its lips, lids, irises, brows, nose and jaw are.

They are looked for while lines are drawn, are in memory only, and are kept nowhere. A face is seen
three times: as the face finder boxed it, then, laid level and framed by what was found, as it is
and mirrored. The mean of both is taken, and each says one eye; so a mirrored face has the mirrored
landmarks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

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


@dataclass(frozen=True, kw_only=True, eq=False)
class _Look:
    """Of a face: its number, the picture that it is in, and what is looked at of that."""

    number: int
    picture: Image.Image
    frame: _Frame


def face_landmarks(picture: Image.Image, face: Face, *, threads: int = 1) -> Landmarks | None:
    """Look for the landmarks of a face, as `landmarks_of_faces` does for several."""
    return landmarks_of_faces([(picture, face)], threads=threads)[0]


def landmarks_of_faces(
    seen: Sequence[tuple[Image.Image, Face]], *, threads: int = 1
) -> list[Landmarks | None]:
    """Look for the landmarks of faces.

    All views of all faces go through the network together: most of its layers are so small that
    calling them takes as long. The result is the same for each by itself.

    Args:
        seen: Faces, each with the picture that it is in: mode RGB, the whole upright reference at
            any size; finest where a face is some 130 pixels wide. Where a face is,
            `worker.reading.faces.find_faces` says.
        threads: How many work at once; the result is the same with any.

    Returns:
        For each face its landmarks, or None if no face is seen there.
    """
    boxed = [
        _Look(number=number, picture=picture, frame=_boxed(face, picture.size))
        for number, (picture, face) in enumerate(seen)
    ]
    framed = [
        replace(look, frame=_framed(_placed(rough, look.frame)))
        for look, odds, (rough,) in _looked(boxed, mirrored=False, threads=threads)
        if odds >= _LEAST_ODDS
    ]
    found: list[Landmarks | None] = [None] * len(seen)
    for look, odds, (ahead, aback) in _looked(framed, mirrored=True, threads=threads):
        if odds >= _LEAST_ODDS:
            back = (aback * np.array([-1, 1], np.float32))[MIRRORED]
            points = _mean(_placed(ahead, look.frame), _placed(back, look.frame))
            found[look.number] = Landmarks(points=points, likely=1 / (1 + math.exp(-odds)))
    return found


def _looked(
    looks: Sequence[_Look], *, mirrored: bool, threads: int
) -> Iterator[tuple[_Look, float, Floats]]:
    """What the network says of frames: log odds, and points in each view.

    Args:
        looks: The frames.
        mirrored: Whether to look at the mirrored view too, and closer in both.
        threads: How many work at once.
    """
    if not looks:
        return
    views = [_view(look.picture, look.frame) for look in looks]
    if mirrored:
        views = [view for ahead in views for view in (ahead, ahead[:, ::-1])]
    odds, points = _seen(np.stack(views), closer=mirrored, threads=threads)
    each = len(views) // len(looks)
    for number, look in enumerate(looks):
        mine = slice(number * each, (number + 1) * each)
        yield look, float(odds[mine].mean(dtype=np.float64)), points[mine]


def _mean(points: Floats, mirrored: Floats) -> Floats:
    """The mean of what both views say; each says one eye."""
    mean = (points + mirrored) * np.float32(0.5)
    mean[_OWN_SIDE], other = points[_OWN_SIDE], MIRRORED[_OWN_SIDE]
    mean[other] = mirrored[other]
    return mean


def _seen(views: Floats, *, closer: bool, threads: int) -> tuple[Floats, Floats]:
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
