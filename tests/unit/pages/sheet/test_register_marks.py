"""Register marks as they are read on joined sheets, by code that knows only what a sheet says."""

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from tests.prints.joined_marks import PX_PER_MM, halves_at, read_mark
from tests.unit.layout.test_planning import blank
from worker.layout.planning import plan_sheets
from worker.pages.pack import PackText, PrintedPiece, write_pack
from worker.spec.plan import Plan, Seam
from worker.spec.spec import Print, Seams, Sheet, Spec, Support

SQUARE = Support(width_mm=400, height_mm=400)
#: Butt and lapped, turned and upright, staggered, mirrored, corrected.
SPECS = {
    "butt": Spec(support=SQUARE),
    "lap": Spec(support=SQUARE, seams=Seams(joint="lap", lap_mm=8)),
    "staggered": Spec(
        support=Support(width_mm=600, height_mm=500),
        seams=Seams(arrangement="staggered"),
        print=Print(mirror=True, across_correction=1.004, down_correction=0.997),
    ),
    "narrow lap": Spec(
        support=Support(width_mm=360, height_mm=270), seams=Seams(joint="lap", lap_mm=1)
    ),
}
#: Shifts along the seam and away, in millimetres; an overlap is below 0.
SHIFTS = (
    (0.0, 0.0), (0.3, 0.0), (0.6, 0.0), (-0.3, 0.0), (-0.6, 0.0),
    (0.0, 0.3), (0.0, 0.6), (0.0, -0.3), (0.0, -0.6), (0.3, 0.3),
)  # fmt: skip


Packs = Callable[[str], tuple[Path, Plan]]


@pytest.fixture(scope="module")
def packs(tmp_path_factory: pytest.TempPathFactory) -> Packs:
    """Packs with nothing printed but what is ours, each made once."""
    folder = tmp_path_factory.mktemp("marks")
    made: dict[str, tuple[Path, Plan]] = {}

    def pack(name: str) -> tuple[Path, Plan]:
        if name not in made:
            made[name] = folder / f"{name}.pdf", _written(folder / f"{name}.pdf", SPECS[name])
        return made[name]

    return pack


def _written(path: Path, spec: Spec) -> Plan:
    plan = plan_sheets(spec, blank(3000, 2000))
    text = PackText(title="Seams", number="7K3F-Q2ZD")
    pieces = (PrintedPiece(piece) for piece in plan.pieces)
    write_pack(path, spec=spec, plan=plan, text=text, faint=None, printed=pieces)
    return plan


def _kinds(plan: Plan) -> list[Seam]:
    """A marked seam of each kind: upright or lying, between sheets that are turned or not."""
    found: dict[tuple[bool, tuple[int, ...]], Seam] = {}
    for seam in plan.seams:
        pieces = [plan.piece(label) for label in seam.between]
        turned = tuple(piece.turned_deg for piece in pieces if piece)
        if seam.register_marks_mm:
            found.setdefault((seam.standing, turned), seam)
    return list(found.values())


@pytest.mark.parametrize("name", SPECS)
def test_a_shift_of_three_tenths_is_read_off_every_kind_of_seam(packs: Packs, name: str) -> None:
    """As PDFium draws it at 600 ppi, and as a laser printer blackens whole pixels."""
    pdf, plan = packs(name)
    for seam in _kinds(plan):
        halves = halves_at(pdf, plan, seam, seam.register_marks_mm[0])
        for printed in (halves, halves.laser()):
            for along, across in SHIFTS:
                reading = read_mark(printed.joined(along, across))
                assert reading.ticks == pytest.approx(along), (seam.between, along, across)
                # A pixel is 0.04 mm.
                assert reading.along == pytest.approx(along, abs=0.06)
                assert reading.across == pytest.approx(across, abs=0.07)


def test_every_mark_of_a_pack_meets_its_other_half(packs: Packs) -> None:
    pdf, plan = packs("staggered")
    places = [(seam, mark) for seam in plan.seams for mark in seam.register_marks_mm]
    assert len(places) >= 2 * len(plan.seams) - 4
    for seam, mark in places:
        reading = read_mark(halves_at(pdf, plan, seam, mark).joined(0, 0))
        assert (reading.along, reading.across) == pytest.approx((0, 0), abs=0.04)


def test_a_rim_of_paper_shows_marks_on_black(tmp_path: Path) -> None:
    """A printer puts no white on black by itself: half of a mark's box must not be lost."""
    spec = Spec(support=Support(width_mm=330, height_mm=170))
    plan = plan_sheets(spec, blank(3300, 1700))
    data = io.BytesIO()
    Image.new("L", (200, 200), 0).save(data, "JPEG")
    pieces = (PrintedPiece(piece, data.getvalue(), 200, 200) for piece in plan.pieces)
    text = PackText(title="Night", number="7K3F-Q2ZD")
    pdf = tmp_path / "dark.pdf"
    write_pack(pdf, spec=spec, plan=plan, text=text, faint=None, printed=pieces)
    (seam,) = plan.seams
    seen = halves_at(pdf, plan, seam, seam.register_marks_mm[0]).joined(0, 0).pixels
    light = (seen > 200).astype(np.uint8)
    # The rims of five ticks and two lines, which touch each other across the seam.
    _, _, boxes, _ = cv2.connectedComponentsWithStats(light)
    wide_px = round(0.4 * PX_PER_MM)
    assert sum(box[4] > wide_px**2 for box in boxes[1:]) >= 2
    assert light.mean() > 0.05


def test_every_sheet_says_what_the_marks_are(
    make: Callable[..., Any], read: Callable[[Path, int], str]
) -> None:
    spec = Spec(
        support=Support(width_mm=250, height_mm=250), sheet=Sheet(format="iso_a5_148x210mm")
    )
    for one, says in (
        (spec, "Dash"),
        (replace(spec, language="it"), "rattini"),
        (Spec(support=SQUARE), "Dashed marks"),
    ):
        made = make(one)
        for piece in made.plan.pieces:
            assert says in read(made.path, piece.page), piece.label
    bare = make(Spec(support=SQUARE, seams=Seams(register_marks=False)))
    assert "Dashed marks" not in read(bare.path, bare.plan.pieces[0].page)
