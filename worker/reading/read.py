"""One reading of a picture: contours and faces, and contours of small heads more closely."""

from __future__ import annotations

import math

from PIL import Image

from worker.reading.contours import contour_maps
from worker.reading.faces import find_faces
from worker.spec.reading import MAPS, WHOLE, Bytes, Maps, Reading
from worker.spec.spec import Area

Box = tuple[float, float, float, float]
#: The longer side of the picture that contours are read in.
READ_PX = 768
#: A head is read again at this size where that is so many times finer, of the largest few.
INSET_PX, _FINER, _MOST_INSETS = 256, 1.25, 6


def read_picture(picture: Image.Image, whole: Box, *, threads: int = 2) -> Reading:
    """Read a picture.

    Args:
        picture: Mode L or RGB, the upright reference at a reduced size.
        whole: Left, top, right, bottom of the part of `picture` that the reference fills.
        threads: How many work at once; the reading is the same with any.
    """
    small = _reduced(picture, whole, READ_PX)
    faces = find_faces(small, threads=threads)
    heads = [_inside(face.head, whole) for face in faces[:_MOST_INSETS]]
    finer = [head for head in heads if _is_finer(head, whole)]
    return Reading(
        area=WHOLE,
        **_maps(small, threads),
        faces=faces,
        insets=tuple(
            Maps(area=_shares(head, whole), **_maps(_reduced(picture, head, INSET_PX), threads))
            for head in finer
        ),
    )


def _reduced(picture: Image.Image, box: Box, longer_px: int) -> Image.Image:
    width, height = box[2] - box[0], box[3] - box[1]
    share = longer_px / max(width, height)
    size = (max(round(width * share), 1), max(round(height * share), 1))
    kind = Image.Resampling.BOX if share < 1 else Image.Resampling.BICUBIC
    return picture.resize(size, kind, box=box).convert("RGB")


def _maps(picture: Image.Image, threads: int) -> dict[str, Bytes]:
    return dict(zip(MAPS, contour_maps(picture, threads), strict=True))


def _is_finer(head: Box, whole: Box) -> bool:
    """Whether a head is read at a finer scale than the whole picture is."""
    side, all_of_it = (max(box[2] - box[0], box[3] - box[1]) for box in (head, whole))
    return min(INSET_PX / side, 1.0) > _FINER * min(READ_PX / all_of_it, 1.0)


def _inside(head: Area, whole: Box) -> Box:
    """A head in whole pixels of the reduced picture, so that its borders are exact."""
    width, height = whole[2] - whole[0], whole[3] - whole[1]
    return (
        math.floor(head.left * width),
        math.floor(head.top * height),
        min(math.ceil((head.left + head.width) * width), whole[2]),
        min(math.ceil((head.top + head.height) * height), whole[3]),
    )


def _shares(box: Box, whole: Box) -> Area:
    width, height = whole[2] - whole[0], whole[3] - whole[1]
    return Area(
        left=box[0] / width,
        top=box[1] / height,
        width=(box[2] - box[0]) / width,
        height=(box[3] - box[1]) / height,
    )
