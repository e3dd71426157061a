"""Where the faces of a reference lie in the picture, and which of them are protected."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from worker.layout.crop_limits import CropLimits
from worker.spec.plan import FaceAreas
from worker.spec.reading import Face
from worker.spec.spec import Area

#: A smaller share of the picture is not worth an area: on 60 cm it is 6 mm wide.
LEAST_SHARE = 0.01
#: Less than this is no area (`worker.spec.json`).
_NO_AREA = 0.001
#: A face or an eye is protected where an area covers this share of it.
_COVERED = 0.8


def faces_in(limits: CropLimits, crop: Area, faces: Iterable[Face]) -> tuple[FaceAreas, ...]:
    """Faces whose middle lies in the crop, in shares of the unmirrored picture.

    Args:
        limits: The reference in pixels, and by how much the crop is turned.
        crop: The resolved crop.
        faces: The faces of the reading; the order is kept.
    """
    found = []
    for one in faces:
        face = _in_picture(limits, crop, one.box)
        if face and min(face.width, face.height) >= LEAST_SHARE:
            eyes = (_in_picture(limits, crop, eye) for eye in one.eyes)
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


def _in_picture(limits: CropLimits, crop: Area, area: Area) -> Area | None:
    """The upright box around an area of the reference, cut at the picture's edges.

    None where the area's middle lies outside, or less is left than an area may have.
    """
    size = (crop.width * limits.width_px, crop.height * limits.height_px)
    centre = (
        (crop.left + crop.width / 2) * limits.width_px,
        (crop.top + crop.height / 2) * limits.height_px,
    )
    box = limits.extent(area.width * limits.width_px, area.height * limits.height_px)
    spans = []
    for offset, extent, side in zip(limits.offset(centre, area), box, size, strict=True):
        middle, half = 0.5 + offset / side, extent / side / 2
        if not 0.0 <= middle <= 1.0:
            return None
        start = max(middle - half, 0.0)
        spans.append((start, min(middle + half, 1.0) - start))
    (left, width), (top, height) = spans
    if min(width, height) < _NO_AREA:
        return None
    return Area(left=left, top=top, width=width, height=height)
