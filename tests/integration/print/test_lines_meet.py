"""Lines cut at seams, joined again from renders, and held against one drawing by OpenCV.

OpenCV draws the same curves on one large sheet, as polylines with round joins. Where a
stroke crosses a seam, the ink of the joined render around that place is compared with the
ink of that drawing: a break would lack some, a double line or a cap at the cut would have
too much. The same is done at places of the same strokes far from any seam, so that what
renderers differ by anyway is known.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pikepdf
import pytest
import skimage.data

from tests.pictures.photographs import as_jpeg, enlarged
from tests.prints.joined import PX_PER_MM, Made, Values, by_pdfium, by_poppler, joined
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack, make_sheet
from worker.pages.pack import Aids, PackText, PrintedPiece, write_pack
from worker.pdf.stroke_paths import LineWork
from worker.picture.outline import find_strokes
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Outline, Print, Seams, Sheet, Spec, Support, Tone
from worker.spec.strokes import Strokes, line_widths_mm
from worker.spec.study import DetailLevel, ReferenceStudy

#: OpenCV's drawing.
FINE_PX_PER_MM = 20
_SHIFT = 6
#: Ink is compared in discs of this radius.
RADIUS_MM = 0.5
#: Operators that name a font or show its glyphs by their numbers.
_FONTS = frozenset({"Tf", "TJ"})
A5 = Sheet(format="iso_a5_148x210mm")
#: Lines of 0.25, 0.5 and 1 mm: the ink of a thinner one differs by more than asked for where a
#: renderer moves it by a share of its pixel.
OUTLINE = Tone(style="outline", outline=Outline(line_mm=0.5))
JOBS = {
    "plain": Spec(support=Support(width_mm=200, height_mm=280), sheet=A5, tone=OUTLINE),
    "turned": Spec(support=Support(width_mm=290, height_mm=200), sheet=A5, tone=OUTLINE),
    "lap": Spec(
        support=Support(width_mm=200, height_mm=260),
        sheet=A5,
        tone=OUTLINE,
        seams=Seams(joint="lap", lap_mm=8.0),
    ),
    "staggered": Spec(
        support=Support(width_mm=300, height_mm=280),
        sheet=A5,
        tone=OUTLINE,
        seams=Seams(arrangement="staggered"),
    ),
    "corrected": Spec(
        support=Support(width_mm=200, height_mm=260),
        sheet=A5,
        tone=OUTLINE,
        print=Print(across_correction=1.012, down_correction=0.991),
    ),
}
Points = npt.NDArray[np.float64]


def planned(spec: Spec) -> Plan:
    strewn = np.random.default_rng(3).random((48, 72)).astype(np.float32) ** 4
    level = DetailLevel(density=strewn, pixel_size_px=16.0)
    thumb = np.full((64, 96), 128, np.uint8)
    study = ReferenceStudy(width_px=6000, height_px=4000, levels=(level,), thumb=thumb)
    # What is compared is the lines' ink alone.
    bare = replace(spec, seams=replace(spec.seams, register_marks=False))
    return plan_sheets(bare, study)


def waves(width_mm: float, height_mm: float) -> Strokes:
    """Slow waves across and down the picture, none near another, in all three weights.

    Cubic curves through places and slopes of sines (Hermite's form): smooth, and crossing
    each seam at many angles.
    """
    along, curves, first = np.linspace(0, 1, 9), [], [0]
    for number in range(22):
        down = number % 2 == 1
        long, wide = (height_mm, width_mm) if down else (width_mm, height_mm)
        middle = (number // 2 + 0.5) / 11 * wide
        turns = 0.7 + 0.21 * number
        places = np.stack((along * long, middle + 3 * np.sin(turns * 6.283 * along)), axis=1)
        slopes = np.stack((np.full(9, long), 18.85 * turns * np.cos(turns * 6.283 * along)), axis=1)
        slopes /= 3 * 8
        pieces = np.stack(
            (places[:-1], places[:-1] + slopes[:-1], places[1:] - slopes[1:], places[1:]), axis=1
        )
        pieces = np.clip(pieces, 0, (long, wide))
        curves.append(pieces[..., ::-1] if down else pieces)
        first.append(first[-1] + len(pieces))
    return Strokes(
        curves_mm=np.concatenate(curves).astype(np.float32),
        first=np.array(first, np.int32),
        weight=(np.arange(22) // 2 % 3).astype(np.uint8),
        length_mm=np.full(22, 200, np.float32),
    )


def written(spec: Spec, strokes: Strokes, plan: Plan, folder: Path) -> Made:
    path = folder / "pack.pdf"
    write_pack(
        path,
        spec=spec,
        plan=plan,
        text=PackText(title="Lines", number="7K3F-Q2ZD"),
        faint=None,
        printed=(PrintedPiece(piece) for piece in plan.pieces),
        aids=Aids(lines=LineWork(strokes=strokes, line_mm=spec.tone.outline.line_mm)),
    )
    return Made(path, spec, plan)


def walked(strokes: Strokes, stroke: int, steps: int = 300) -> Points:
    """Places along a stroke in mm, close together."""
    share = np.linspace(0, 1, steps, endpoint=False)[None, :, None]
    curves = strokes.curves_mm[strokes.first[stroke] : strokes.first[stroke + 1]].astype(float)
    a, b, c, d = (curves[:, None, number] for number in range(4))
    places = (1 - share) ** 3 * a + 3 * share * (1 - share) ** 2 * b
    places = places + 3 * share**2 * (1 - share) * c + share**3 * d
    return np.vstack((places.reshape(-1, 2), curves[-1, 3]))


def by_opencv(strokes: Strokes, spec: Spec, plan: Plan) -> Values:
    """The ink of all strokes on one sheet, 0 to 1, at the joined render's resolution.

    OpenCV's thick polylines come out up to a sixth too thick; so it draws them thin, and its
    distance transform says which places are within half a line's width of them.
    """
    size = plan.picture
    rows, columns = (round(mm * FINE_PX_PER_MM) for mm in (size.height_mm, size.width_mm))
    sheet = np.zeros((rows, columns), np.float32)
    for weight, width_mm in enumerate(line_widths_mm(spec.tone.outline.line_mm)):
        blank = np.full((rows, columns), 255, np.uint8)
        for stroke in np.flatnonzero(strokes.weight == weight).tolist():
            # OpenCV counts from the middle of a pixel.
            places = (walked(strokes, stroke) * FINE_PX_PER_MM - 0.5) * (1 << _SHIFT)
            whole = [np.rint(places).astype(np.int32)]
            cv2.polylines(blank, whole, isClosed=False, color=0, thickness=1, shift=_SHIFT)
        away = cv2.distanceTransform(blank, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        # In place: each of these arrays is large.
        np.subtract(width_mm / 2 * FINE_PX_PER_MM + 0.5, away, out=away)
        np.maximum(sheet, np.clip(away, 0, 1, out=away), out=sheet)
    shape = (round(size.width_mm * PX_PER_MM), round(size.height_mm * PX_PER_MM))
    return cv2.resize(sheet, shape, interpolation=cv2.INTER_AREA).astype(np.float64)


@dataclass(frozen=True)
class Compared:
    """Ink of the joined render over ink of the one drawing, around places of strokes."""

    at_seams: Values
    elsewhere: Values


def compared(strokes: Strokes, made: Made, render: Values, drawn: Values) -> Compared:
    side = 2 * round(RADIUS_MM * PX_PER_MM) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)).astype(np.float64)
    found, wanted = (cv2.filter2D(each, -1, disc) for each in (render, drawn))
    near, far = [], []
    for stroke in range(len(strokes)):
        places = walked(strokes, stroke)
        size = made.plan.picture
        inside = (places > RADIUS_MM * 2).all(axis=1)
        inside &= (places < (size.width_mm - 2 * RADIUS_MM, size.height_mm - 2 * RADIUS_MM)).all(
            axis=1
        )
        places = places[inside]
        away = from_seams(places, made.plan)
        x, y = (np.floor(places * PX_PER_MM)).astype(int).T
        ratio = found[y, x] / np.maximum(wanted[y, x], 1e-6)
        near.append(ratio[away < RADIUS_MM / 3])
        far.append(ratio[away > 3 * RADIUS_MM])
    return Compared(np.concatenate(near), np.concatenate(far))


def from_seams(places: Points, plan: Plan) -> Values:
    """How far each place is from the nearest seam, in mm."""
    nearest = np.full(len(places), np.inf)
    for seam in plan.seams:
        start, end = np.asarray(seam.from_mm), np.asarray(seam.to_mm)
        along = (places - start) @ (end - start) / ((end - start) @ (end - start))
        foot = start + np.clip(along, 0, 1)[:, None] * (end - start)
        nearest = np.minimum(nearest, np.hypot(*(places - foot).T))
    return nearest


def ink(whole: Values) -> Values:
    return 1 - whole / 255


@pytest.mark.parametrize("job", JOBS)
def test_lines_run_across_seams_without_break_or_double(job: str, tmp_path: Path) -> None:
    spec = JOBS[job]
    plan = planned(spec)
    strokes = waves(plan.picture.width_mm, plan.picture.height_mm)
    made = written(spec, strokes, plan, tmp_path)
    drawn = by_opencv(strokes, spec, plan)
    for render in (by_pdfium, by_poppler):
        whole, covered = joined(made, render)
        assert covered.all()
        assert ink(whole).mean() / drawn.mean() == pytest.approx(1.0, abs=0.04)
        found = compared(strokes, made, ink(whole), drawn)
        assert len(found.at_seams) > 50
        usual = np.median(found.elsewhere)
        assert usual == pytest.approx(1.0, abs=0.04)
        # Poppler moves lines that stand beside a seam by up to a pixel of its own: cut lines by a
        # share of one, the dashed line of a lap by more.
        moved = 0.0 if render is by_pdfium else 0.05
        assert np.median(found.at_seams) == pytest.approx(usual, abs=0.1 + moved)
        if job != "lap" or render is by_pdfium:
            assert np.percentile(found.at_seams, 1) > 0.8
            assert np.percentile(found.at_seams, 99) < 1.2


def test_a_break_of_a_fifth_of_a_millimetre_would_be_found(tmp_path: Path) -> None:
    spec = JOBS["plain"]
    plan = planned(spec)
    strokes = waves(plan.picture.width_mm, plan.picture.height_mm)
    made = written(spec, strokes, plan, tmp_path)
    whole, _ = joined(made, by_pdfium)
    y, x = (np.indices(whole.shape) + 0.5) / PX_PER_MM
    for seam in plan.seams:
        (left, top), (right, _) = seam.from_mm, seam.to_mm
        gap = np.abs(x - left) < 0.1 if left == right else np.abs(y - top) < 0.1
        whole[gap] = 255
    found = compared(strokes, made, ink(whole), by_opencv(strokes, spec, plan))
    assert np.percentile(found.at_seams, 1) < 0.8
    assert np.median(found.at_seams) < np.median(found.elsewhere) - 0.1


def test_a_photos_lines_are_on_paper_as_they_were_found(tmp_path: Path) -> None:
    photo = as_jpeg(enlarged(skimage.data.astronaut(), 2000, 2000))
    taken = take_in(io.BytesIO(photo), tmp_path, Limits())
    spec = Spec(support=Support(width_mm=260, height_mm=260), sheet=A5, tone=OUTLINE)
    plan = plan_sheets(spec, taken.study)
    with Master.open(tmp_path / "master.zip") as master:
        strokes = find_strokes(master, spec, plan)
    files = make_pack(tmp_path / "master.zip", spec, plan, title="Lines", folder=tmp_path)
    made = Made(files.pack_pdf, spec, plan)
    drawn = by_opencv(strokes, spec, plan)
    whole, covered = joined(made, by_pdfium)
    assert covered.all()
    # PDFium draws lines a little lighter, which tells where they are short and close.
    assert ink(whole).mean() / drawn.mean() == pytest.approx(1.0, abs=0.08)
    found = compared(strokes, made, ink(whole), drawn)
    assert np.median(found.at_seams) == pytest.approx(np.median(found.elsewhere), abs=0.06)
    # No raster lies below lines alone, and a sheet printed again is the same drawing.
    label = plan.pieces[1].label
    make_sheet(
        tmp_path / "master.zip", spec, plan, label, title="Lines", path_pdf=tmp_path / "one.pdf"
    )
    with pikepdf.open(files.pack_pdf) as pack, pikepdf.open(tmp_path / "one.pdf") as one:
        page = pack.pages[plan.pieces[1].page - 1]
        assert "/XObject" not in page.Resources
        assert drawing(one.pages[0]) == drawing(page)


def drawing(page: pikepdf.Page) -> list[str]:
    """The operators of a page; fonts are numbered in the order in which a file uses them."""
    steps = [
        step for step in pikepdf.parse_content_stream(page) if str(step.operator) not in _FONTS
    ]
    return [pikepdf.unparse_content_stream([step]).decode("latin-1") for step in steps]
