"""Landmarks of faces in the picture as it is printed.

They are sought in the sampled picture itself, around the boxes that the reading has of faces:
it may be cropped, turned and mirrored. They last while lines are found, and are kept nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.outline.contours.features.bands import Doubles
from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.sampled_picture import CHROMA_PX, SampledPicture
from worker.reading.landmarks import landmarks_of_faces
from worker.spec.reading import Face
from worker.spec.spec import Area

#: Eyes tell which way up a face is.
_BOTH = 2
#: A face of so many pixels is enough: the network sees it in far fewer.
_ENOUGH_PX = 400
#: So much of the picture is looked at around a face's box, in its sides.
_AROUND = 0.75


@dataclass(frozen=True, kw_only=True, eq=False)
class _Part:
    """What is looked at of a picture.

    Attributes:
        picture: Mode RGB.
        face: Where the face is in it.
        start: Where it begins on the grid, across and down.
        coarser: Pixels of the grid in one of its.
    """

    picture: Image.Image
    face: Face
    start: npt.NDArray[np.int64]
    coarser: int


def seen_landmarks(
    placed: PlacedReading, sampled: SampledPicture, faces: Sequence[Face]
) -> list[Doubles]:
    """Those of faces that are seen, (478, 2) in pixels of the grid each.

    Args:
        placed: The reading, which knows where faces are.
        sampled: The picture.
        faces: The faces.
    """
    around = [_around(placed, sampled, face) for face in faces]
    parts = [part for part in around if part is not None]
    found = landmarks_of_faces([(part.picture, part.face) for part in parts])
    # The middle of the first pixel is at 0 on the grid.
    return [
        one.points.astype(np.float64) * part.coarser - 0.5 + part.start
        for part, one in zip(parts, found, strict=True)
        if one is not None
    ]


def _around(placed: PlacedReading, sampled: SampledPicture, face: Face) -> _Part | None:
    """What is around a face, if any of it is in the picture."""
    if len(face.eyes) != _BOTH:
        return None
    boxes = [_on_grid(placed, area) for area in (face.box, *face.eyes)]
    # From the viewer's left to the right, also where the picture is mirrored.
    if np.linalg.det(placed.to_share[:, :2]) < 0:
        boxes[1:] = boxes[:0:-1]
    low, high = boxes[0]
    far = _AROUND * (high - low).max()
    rows, columns = sampled.shape
    start = np.clip((low - far) // CHROMA_PX * CHROMA_PX, 0, (columns, rows)).astype(int)
    end = np.clip(np.ceil(high + far), 0, (columns, rows)).astype(int)
    if ((end - start) < CHROMA_PX).any():
        return None
    size = end - start
    areas = [
        Area(left=left, top=top, width=width, height=height)
        for (left, top), (width, height) in (
            ((one[0] - start) / size, (one[1] - one[0]) / size) for one in boxes
        )
    ]
    seen = Face(box=areas[0], head=areas[0], eyes=tuple(areas[1:]))
    coarser = max(int((high - low).max() / _ENOUGH_PX), 1)
    picture = _in_colour(sampled, start, end, coarser)
    return _Part(picture=picture, face=seen, start=start, coarser=coarser)


def _on_grid(placed: PlacedReading, area: Area) -> Doubles:
    """A box of the same size around the same middle, on the grid: two corners."""
    across = np.float32(area.left) + np.float32(area.width) * np.array((0, 1, 0.5, 0.5), np.float32)
    down = np.float32(area.top) + np.float32(area.height) * np.array((0.5, 0.5, 0, 1), np.float32)
    left, right, top, bottom = np.stack(placed.from_shares(across, down), axis=1).astype(np.float64)
    half = np.array((np.hypot(*(right - left)), np.hypot(*(bottom - top)))) / 2
    middle = (left + right) / 2
    return np.stack((middle - half, middle + half)) + 0.5


def _in_colour(
    sampled: SampledPicture, start: np.ndarray, end: np.ndarray, coarser: int
) -> Image.Image:
    """A part of the picture, mode RGB, so many times coarser."""
    whole = Image.fromarray(sampled.grey[start[1] : end[1], start[0] : end[0]])
    grey = whole.reduce(coarser)
    if not sampled.chroma:
        return grey.convert("RGB")
    (left, top), (right, bottom) = start // CHROMA_PX, -(-end // CHROMA_PX)
    box = (0.0, 0.0, whole.width / CHROMA_PX, whole.height / CHROMA_PX)
    chroma = [
        Image.fromarray(one[top:bottom, left:right]).resize(
            grey.size, Image.Resampling.BILINEAR, box
        )
        for one in sampled.chroma
    ]
    return Image.merge("YCbCr", (grey, *chroma)).convert("RGB")
