"""Which part of the reference fills the picture.

The resolved crop has exactly the picture's proportions and stays within the reference, also
when it is turned. One that was given may be 1 % off the proportions and is then trimmed; more
is an error that says what would fit.
"""

from __future__ import annotations

from collections.abc import Sequence

from worker.errors import CropOutside, CropProportions
from worker.layout.crop.heads import centre_for_heads
from worker.layout.crop.limits import CropLimits
from worker.spec.plan import FaceWithHead, Framing
from worker.spec.reading import Face
from worker.spec.spec import Area, Focus, Spec

#: A crop given by hand may differ this much from the picture's proportions; it is then
#: trimmed to them. More is a mistake, and said.
PROPORTIONS_TOLERANCE = 0.01
#: Half a pixel beyond the edge is a rounding of the caller's.
_SLACK_PX = 0.5


def resolve_crop(spec: Spec, width_px: int, height_px: int, faces: Sequence[Face] = ()) -> Area:
    """The crop in shares of the upright reference, of the picture's exact proportions.

    With `rotate_deg` the area is the crop before it is turned about its own centre; its
    turned corners lie inside the reference. Where neither a crop nor a focus is given, it is the
    largest, as near the centre as it can be with the heads of `faces` whole.

    Raises:
        CropProportions: An explicit crop differs by more than 1 % from the picture.
        CropOutside: An explicit crop, turned, reaches beyond the reference.
    """
    limits = CropLimits(width_px, height_px, spec.rotate_deg)
    proportion = spec.support.picture_width_mm / spec.support.picture_height_mm
    if isinstance(spec.crop, Area):
        return _explicit(limits, spec.crop, proportion)
    size = limits.largest(proportion)
    if isinstance(spec.crop, Focus):
        return limits.moved_inside((spec.crop.x * width_px, spec.crop.y * height_px), size)
    return limits.moved_inside(centre_for_heads(limits, size, faces), size)


def framing(spec: Spec, limits: CropLimits, crop: Area, faces: Sequence[Face]) -> Framing:
    """What the resolved crop does with heads."""
    centred = limits.moved_inside(
        (limits.width_px / 2, limits.height_px / 2),
        (crop.width * limits.width_px, crop.height * limits.height_px),
    )
    return Framing(
        faces=tuple(FaceWithHead(face=each.box, head=each.head) for each in faces),
        whole=sum(limits.holds(crop, face.head) for face in faces),
        moved=spec.crop is None and max(_off(crop, centred, limits)) > _SLACK_PX,
    )


def _off(one: Area, other: Area, limits: CropLimits) -> tuple[float, float]:
    """How far two crops of one size lie apart, in pixels."""
    return (
        abs(one.left - other.left) * limits.width_px,
        abs(one.top - other.top) * limits.height_px,
    )


def _explicit(limits: CropLimits, crop: Area, proportion: float) -> Area:
    asked_px = (crop.width * limits.width_px, crop.height * limits.height_px)
    asked = asked_px[0] / asked_px[1]
    if abs(asked / proportion - 1.0) > PROPORTIONS_TOLERANCE:
        fitting = asked_px[0] / proportion / limits.height_px
        message = (
            f"The crop is {asked:.3f} times as wide as high, the picture {proportion:.3f} times. "
            f"With this width the height would be {fitting:.4f}; "
            "or give a focus point and let the crop be found."
        )
        raise CropProportions(message, field="crop")
    width_px = min(asked_px[0], asked_px[1] * proportion)
    size = (width_px, width_px / proportion)
    centre = (
        (crop.left + crop.width / 2) * limits.width_px,
        (crop.top + crop.height / 2) * limits.height_px,
    )
    _check_inside(limits, centre, size)
    return limits.moved_inside(centre, size)


def _check_inside(
    limits: CropLimits, centre: tuple[float, float], size: tuple[float, float]
) -> None:
    box = limits.extent(*size)
    over_px = max(
        box[0] / 2 - centre[0],
        box[1] / 2 - centre[1],
        centre[0] + box[0] / 2 - limits.width_px,
        centre[1] + box[1] / 2 - limits.height_px,
    )
    if over_px > _SLACK_PX:
        message = (
            f"The crop reaches {over_px:.0f} pixels beyond the photo"
            + (f" when it is turned by {limits.rotate_deg:g}°" if limits.rotate_deg else "")
            + ". Make it smaller or move it inward."
        )
        raise CropOutside(message, field="crop")
