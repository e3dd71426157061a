"""Where the faces of a reference lie in the picture, and which of them are protected."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from worker.spec.plan import FaceAreas
from worker.spec.reading import Face
from worker.spec.spec import Area
from worker.spec.study import PictureFrame

#: A smaller share of the picture is not worth an area: on 60 cm it is 6 mm wide.
LEAST_SHARE = 0.01
#: Less than this is no area (`worker.spec.json`).
_NO_AREA = 0.001
#: A face or an eye is protected where an area covers this share of it.
_COVERED = 0.8


def faces_in(
    frame: PictureFrame, width_px: int, height_px: int, faces: Iterable[Face]
) -> tuple[FaceAreas, ...]:
    """Faces whose middle lies in the picture, in shares of the unmirrored picture.

    Args:
        frame: What of the reference the picture shows.
        width_px: Width of the reference.
        height_px: Its height.
        faces: The faces of the reading; the order is kept.
    """
    unmirrored, size_px = replace(frame, mirror=False), (width_px, height_px)
    found = []
    for one in faces:
        face = _shares(unmirrored, size_px, one.box)
        if face and min(face.width, face.height) >= LEAST_SHARE:
            eyes = (_shares(unmirrored, size_px, eye) for eye in one.eyes)
            found.append(FaceAreas(face=face, eyes=tuple(eye for eye in eyes if eye)))
    return tuple(found)


def unprotected(faces: Iterable[FaceAreas], protect: Sequence[Area]) -> tuple[FaceAreas, ...]:
    """Faces that no protected area covers, neither whole nor at each of their eyes."""
    return tuple(
        one
        for one in faces
        if not is_covered(one.face, protect)
        and not (one.eyes and all(is_covered(eye, protect) for eye in one.eyes))
    )


def is_covered(area: Area, protect: Sequence[Area]) -> bool:
    """Whether one protected area covers most of an area."""
    return any(_overlap(area, one) >= _COVERED * area.width * area.height for one in protect)


def _overlap(one: Area, other: Area) -> float:
    across = min(one.left + one.width, other.left + other.width) - max(one.left, other.left)
    down = min(one.top + one.height, other.top + other.height) - max(one.top, other.top)
    return max(across, 0.0) * max(down, 0.0)


def _shares(frame: PictureFrame, size_px: tuple[int, int], area: Area) -> Area | None:
    """The box of an area of the reference in shares of the picture.

    None where the area's middle lies outside, or less is left than an area may have.
    """
    left, top, right, bottom = frame.uncut_box_of(area, *size_px)
    middle = ((left + right) / 2 / frame.width_mm, (top + bottom) / 2 / frame.height_mm)
    if not all(0.0 <= share <= 1.0 for share in middle):
        return None
    left, top, right, bottom = frame.box_of(area, *size_px)
    width, height = (right - left) / frame.width_mm, (bottom - top) / frame.height_mm
    if min(width, height) < _NO_AREA:
        return None
    return Area(left=left / frame.width_mm, top=top / frame.height_mm, width=width, height=height)
