"""A close-up is what the printer gets: held to a pack's sheets in an outside renderer."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skimage.data
from PIL import Image

from tests.prints.joined import PX_PER_MM, Made, by_poppler, joined
from tests.unit.reference.samples import saved, taken
from worker.layout.planning import plan_sheets
from worker.make import style as styling
from worker.make.close_up import close_up
from worker.make.pack import make_pack
from worker.picture.enlarge import boxed, picture_part
from worker.picture.found_style import FoundStyle
from worker.reference.master import Master
from worker.reference.study_file import load_study
from worker.spec.plan import Plan, Rect
from worker.spec.spec import Grid, Print, Seams, Spec, Support, Tone, ToneStyle
from worker.spec.strokes import PEN_WIDTHS_MM, PLAIN, Strokes

SPEC = Spec(support=Support(width_mm=300, height_mm=200), seams=Seams(placement="even"))
#: Around the middle of the picture, where its two sheets meet, in whole pixels of 200 ppi.
PART_PX = (960, 500, 480, 420)


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a taken-in photograph."""
    path = tmp_path_factory.mktemp("reference")
    photo = Image.fromarray(skimage.data.astronaut()[40:381]).resize((1200, 800))
    taken(saved(photo, "PNG"), path)
    return path


def planned(reference: Path, spec: Spec) -> Plan:
    return plan_sheets(spec, load_study(reference / "study.npz"))


def part_of(px: tuple[int, int, int, int]) -> Rect:
    return Rect(*(side / PX_PER_MM for side in px))


def shown(reference: Path, spec: Spec, part_mm: Rect, width_px: int, **more: Any) -> Image.Image:
    seen = close_up(
        reference / "master.zip", spec, planned(reference, spec), part_mm, width_px, **more
    )
    picture = Image.open(io.BytesIO(seen.png), formats=["PNG"])
    picture.load()
    return picture


def test_it_is_what_sheets_have_at_this_place(reference: Path, tmp_path: Path) -> None:
    """Tones, lines, grid and register marks, where two sheets meet."""
    tone, print_ = Tone(style="mixed", lighten=0.3), Print(resolution_ppi=300)
    spec = replace(SPEC, tone=tone, grid=Grid(square_mm=30), print=print_)
    plan = planned(reference, spec)
    files = make_pack(reference / "master.zip", spec, plan, title="", folder=tmp_path)
    whole, covered = joined(Made(files.pack_pdf, spec, plan), by_poppler)
    left, top, width, height = PART_PX
    assert covered[top : top + height, left : left + width].all()
    seen = np.asarray(shown(reference, spec, part_of(PART_PX), width), float)
    assert seen.shape == (height, width)

    def off(right: int = 0, down: int = 0) -> float:
        there = np.s_[top + down : top + down + height, left + right : left + right + width]
        return float(np.abs(seen - whole[there]).mean())

    assert off() < 2
    # An eighth of a millimetre to any side is worse.
    assert min(off(1), off(-1), off(0, 1), off(0, -1)) > 1.5 * off()


@pytest.mark.parametrize("style", ["grey", "colour", "values"])
def test_at_the_resolution_of_a_sheet_it_has_the_pixels_of_the_sheet(
    reference: Path, style: ToneStyle
) -> None:
    spec = replace(SPEC, tone=Tone(style=style), print=Print(mirror=True))
    spec = replace(spec, seams=Seams(placement="even", register_marks=False))
    plan = planned(reference, spec)
    box, piece = (200, 300, 520, 540), plan.pieces[1]
    with Master.open(reference / "master.zip") as master:
        picture = styling.apply_style(master, spec, plan, 2)
        sheet = picture.pixels(piece)
        part_mm, size = boxed(piece.picture_rect_mm, picture.size_px(piece), box)
    assert sheet is not None
    seen = shown(reference, spec, part_mm, size[0])
    assert seen.mode == sheet.mode
    off = np.abs(np.asarray(seen, int) - np.asarray(sheet.crop(box), int))
    # A sheet's pixels may be a ten-thousandth higher than wide, a screen's are square.
    assert off.max() <= 8
    assert off.mean() < 0.1


def test_a_lap_shows_the_sheet_that_lies_above(reference: Path) -> None:
    seams = Seams(joint="lap", lap_mm=15, placement="even", register_marks=False)
    spec = replace(SPEC, seams=seams)
    part_mm = part_of(PART_PX)
    seen = np.asarray(shown(reference, spec, part_mm, PART_PX[2]), float)
    with Master.open(reference / "master.zip") as master:
        plan = planned(reference, spec)
        wanted = picture_part(master, spec, plan, part_mm, (PART_PX[2], PART_PX[3]))
    assert np.abs(seen - np.asarray(wanted, float)).mean() < 1


@pytest.mark.parametrize("px_per_mm", [4, 8, 24])
def test_a_line_is_as_wide_as_its_pen(reference: Path, px_per_mm: int) -> None:
    """Also a thin one on a coarse screen, where a renderer alone would draw a whole pixel."""
    upright = [(150.0, 20.0), (150.0, 60.0), (150.0, 100.0), (150.0, 180.0)]
    found = FoundStyle(
        strokes=Strokes(
            curves_mm=np.array([upright], np.float32),
            first=np.array([0, 1], np.int32),
            weight=np.array([PLAIN], np.uint8),
            length_mm=np.array([160], np.float32),
        )
    )
    for line_mm in PEN_WIDTHS_MM[::4]:
        outline = replace(Tone().outline, line_mm=line_mm)
        seams = Seams(register_marks=False)
        spec = replace(SPEC, tone=Tone(style="outline", outline=outline), seams=seams)
        part_mm = Rect(130, 90, 50, 10)
        seen = shown(reference, spec, part_mm, 50 * px_per_mm, find=lambda *_: found)
        ink = 1 - np.asarray(seen, float)[5 * px_per_mm] / 255
        assert ink.sum() / px_per_mm == pytest.approx(line_mm, rel=0.1)
        middle_mm = (ink * (np.arange(len(ink)) + 0.5)).sum() / ink.sum() / px_per_mm
        assert middle_mm == pytest.approx(20, abs=0.02)


def test_no_more_is_made_of_a_mural_than_of_a_card(
    reference: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[tuple[int, int]] = []
    whole = styling.enlarge_piece

    def watched(*args: Any, **more: Any) -> Image.Image:
        piece = whole(*args, **more)
        made.append(piece.size)
        return piece

    monkeypatch.setattr(styling, "enlarge_piece", watched)
    for support in (SPEC.support, Support(width_mm=3000, height_mm=2000)):
        made.clear()
        spec = replace(SPEC, support=support)
        ppi = planned(reference, spec).resolution.printed_ppi
        shown(reference, spec, Rect(100, 100, 60, 60), 400)
        printed_px = 60 / 25.4 * ppi
        assert sum(width * height for width, height in made) < (printed_px + 8) ** 2
