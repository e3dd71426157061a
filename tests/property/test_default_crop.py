"""The default crop, for photos, supports, turns and faces of all kinds."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.pictures.planted_faces import planted_face
from worker.layout.crop.crop import resolve_crop
from worker.layout.crop.limits import CropLimits
from worker.spec.reading import Face
from worker.spec.spec import Area, Focus, Spec, Support

shares = st.floats(0.02, 0.98)
faces_found = st.lists(st.builds(planted_face, shares, shares, st.floats(0.02, 0.5)), max_size=4)
sides = st.integers(100, 9000)
specs = st.builds(
    Spec,
    support=st.builds(Support, width_mm=st.floats(50, 1400), height_mm=st.floats(50, 1400)),
    rotate_deg=st.one_of(st.just(0.0), st.floats(-45, 45)),
)
often = settings(max_examples=200, deadline=None)


def whole(limits: CropLimits, crop: Area, faces: list[Face]) -> float:
    """The summed area of heads that are whole."""
    return sum(f.head.width * f.head.height for f in faces if limits.holds(crop, f.head))


@often
@given(specs, sides, sides, faces_found)
def test_it_lies_inside_and_has_the_pictures_proportions(
    spec: Spec, width_px: int, height_px: int, faces: list[Face]
) -> None:
    crop = resolve_crop(spec, width_px, height_px, faces)
    proportion = spec.support.width_mm / spec.support.height_mm
    size = np.array([crop.width * width_px, crop.height * height_px])
    assert abs(size[0] / size[1] / proportion - 1) < 1e-9
    centre = np.array([(crop.left + crop.width / 2), (crop.top + crop.height / 2)])
    centre = centre * (width_px, height_px)
    turn = np.radians(abs(spec.rotate_deg))
    half = np.array([[np.cos(turn), np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ size / 2
    assert (centre - half > -1e-6).all()
    assert (centre + half < np.array([width_px, height_px]) + 1e-6).all()
    # It is as large as one without faces.
    assert abs(crop.width / resolve_crop(spec, width_px, height_px).width - 1) < 1e-9


@often
@given(specs, sides, sides, faces_found)
def test_no_other_place_keeps_more_of_heads_whole(
    spec: Spec, width_px: int, height_px: int, faces: list[Face]
) -> None:
    """By trying a hundred places that the largest crop can move to.

    Heads for which there is room nowhere have no place, and draw the crop to their faces.
    """
    limits = CropLimits(width_px, height_px, spec.rotate_deg)
    tried = [
        resolve_crop(replace(spec, crop=Focus(x=share, y=share)), width_px, height_px)
        for share in np.linspace(0, 1, 101)
    ]
    faces = [f for f in faces if any(limits.holds(crop, f.head) for crop in tried)]
    crop = resolve_crop(spec, width_px, height_px, faces)
    assert whole(limits, crop, faces) >= max(whole(limits, one, faces) for one in tried) - 1e-12
