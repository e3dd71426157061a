"""A board says of a photo what a plan for the same support says."""

from __future__ import annotations

from pathlib import Path

import pytest
import skimage.data
from PIL import Image

from service.classes.board.sharpness import Sharpness, sharpness_in, sharpness_on
from tests.unit.reference.samples import saved, taken_unread
from worker.layout.planning import plan_sheets
from worker.spec.json import dump_plan, load_spec
from worker.store.ledger import ReferenceRow

PAPER = {"width_mm": 300.0, "height_mm": 200.0}


def of_size(width_px: int, height_px: int) -> ReferenceRow:
    return ReferenceRow(width_px=width_px, height_px=height_px, format="jpeg", sha256="0" * 64)


@pytest.mark.parametrize("size", [(4000, 3000), (3000, 4000), (600, 400), (90, 60)])
def test_sharpness_is_two_pixels_of_the_largest_crop(size: tuple[int, int]) -> None:
    found = sharpness_on(of_size(*size), PAPER)
    # The crop of 3 : 2 that is as wide as it goes; a line is two pixels (Shannon 1949), of the
    # photo or of the print, which has 200 to the inch at the most.
    width_px = min(size[0], size[1] * 1.5)
    assert found.finest_line_mm == pytest.approx(max(2 * 300 / width_px, 2 * 25.4 / 200))
    assert found.too_small == (size == (90, 60))
    assert not found.blurred


@pytest.mark.parametrize("times", [1, 4])
def test_a_photo_enlarged_four_times_is_told_as_that_and_as_its_plan_does(
    times: int, tmp_path: Path
) -> None:
    """512 pixels over 250 mm make lines of 1 mm, whether or not they were enlarged to 2048."""
    sharp = Image.fromarray(skimage.data.astronaut())
    photo = sharp.resize((512 * times, 512 * times), Image.Resampling.BICUBIC)
    taken = taken_unread(saved(photo, "JPEG", quality=90), tmp_path)
    row = ReferenceRow(
        width_px=taken.width_px,
        height_px=taken.height_px,
        format=taken.format,
        sha256=taken.sha256,
        resolved_px=taken.study.resolved_px,
    )
    for side_mm, soft in ((150.0, False), (500.0, True)):
        support = {"width_mm": side_mm, "height_mm": side_mm}
        told = sharpness_on(row, support)
        plan = dump_plan(plan_sheets(load_spec({"support": support}), taken.study))
        assert told == sharpness_in(plan)
        # What an enlarged photo resolves is known within a third (tests/unit/reference).
        assert told.finest_line_mm == pytest.approx(2 * side_mm / 512, rel=0.34)
        assert told == Sharpness(told.finest_line_mm, blurred=times == 4)
        assert told.too_small == soft
