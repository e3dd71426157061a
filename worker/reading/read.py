"""One reading of a picture: contours and faces."""

from __future__ import annotations

from PIL import Image

from worker.reading.contours import contour_maps
from worker.reading.faces import find_faces
from worker.spec.reading import Reading

#: The longer side of the picture that contours are read in.
READ_PX = 768


def read_picture(
    picture: Image.Image, whole: tuple[float, float, float, float], *, threads: int = 2
) -> Reading:
    """Read a picture.

    Args:
        picture: Mode L or RGB, the upright reference at a reduced size.
        whole: Left, top, right, bottom of the part of `picture` that the reference fills.
        threads: How many work at once; the reading is the same with any.
    """
    width, height = whole[2] - whole[0], whole[3] - whole[1]
    share = min(READ_PX / max(width, height), 1.0)
    size = (max(round(width * share), 1), max(round(height * share), 1))
    small = picture.resize(size, Image.Resampling.BOX, box=whole).convert("RGB")
    contour, outer, mark, shadow, sure = contour_maps(small, threads)
    return Reading(
        contour=contour,
        outer=outer,
        mark=mark,
        shadow=shadow,
        sure=sure,
        faces=find_faces(small, threads=threads),
    )
