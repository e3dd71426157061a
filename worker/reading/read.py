"""One reading of a picture: contours and faces, and contours of small heads more closely."""

from __future__ import annotations

import math

from PIL import Image

from worker.reading.contours import contour_maps, whole_maps
from worker.reading.faces import find_faces
from worker.spec.reading import MAPS, WHOLE, Bytes, Maps, Reading
from worker.spec.spec import Area

Box = tuple[float, float, float, float]
#: The longer side of the picture that contours are read in.
READ_PX = 768
#: A face is read again where that is so many times finer, of the largest few; a single one in
#: more pixels, which is as long to wait.
INSET_PX, _SINGLE_PX, _FINER, _MOST_INSETS = 224, 288, 1.2, 6
#: Around its box, in widths: the chin, and brows to their ends.
_AROUND = 0.12


def read_picture(picture: Image.Image, whole: Box, *, threads: int = 2) -> Reading:
    """Read a picture.

    Args:
        picture: Mode L or RGB, the upright reference at a reduced size.
        whole: Left, top, right, bottom of the part of `picture` that the reference fills.
        threads: How many work at once; the reading is the same with any.
    """
    small = _reduced(picture, whole, READ_PX)
    faces = find_faces(small, threads=threads)
    side_px = _SINGLE_PX if len(faces) == 1 else INSET_PX
    boxes = [_inside(_around(face.box), whole) for face in faces[:_MOST_INSETS]]
    finer = [box for box in boxes if _is_finer(box, whole, side_px)]
    # Several faces that are read closely take as long, and figures are found by them.
    maps, subject = whole_maps(small, threads, closed=len(finer) <= 1)
    return Reading(
        area=WHOLE,
        **_named(maps),
        subject=subject,
        faces=faces,
        insets=tuple(
            Maps(area=_shares(box, whole), **_named(contour_maps(part, threads)))
            for box, part in ((box, _reduced(picture, box, side_px)) for box in finer)
        ),
    )


def _reduced(picture: Image.Image, box: Box, longer_px: int) -> Image.Image:
    width, height = box[2] - box[0], box[3] - box[1]
    share = longer_px / max(width, height)
    size = (max(round(width * share), 1), max(round(height * share), 1))
    kind = Image.Resampling.BOX if share < 1 else Image.Resampling.BICUBIC
    return picture.resize(size, kind, box=box).convert("RGB")


def _named(maps: tuple[Bytes, ...]) -> dict[str, Bytes]:
    return dict(zip(MAPS, maps, strict=True))


def _is_finer(box: Box, whole: Box, side_px: int) -> bool:
    """Whether a face is read at a finer scale than the whole picture is."""
    side, all_of_it = (max(part[2] - part[0], part[3] - part[1]) for part in (box, whole))
    return side_px / side > _FINER * READ_PX / all_of_it


def _around(box: Area) -> Area:
    """A face with what is beside its box, cut at the picture's edges."""
    left, top = max(box.left - _AROUND * box.width, 0), max(box.top - _AROUND * box.height, 0)
    return Area(
        left=left,
        top=top,
        width=min(box.left + (1 + _AROUND) * box.width, 1) - left,
        height=min(box.top + (1 + _AROUND) * box.height, 1) - top,
    )


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
