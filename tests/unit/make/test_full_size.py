"""The whole picture on one page: its size as others read it, and the same picture as the sheets."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pikepdf
import pypdfium2
import pytest
import skimage.data
from PIL import Image

from tests.prints.joined import PX_PER_MM, Made, Render, Values, by_pdfium, by_poppler, joined
from tests.unit.pages.conftest import plan_for
from tests.unit.reference.samples import saved, taken
from tests.unread import without_reading
from worker.layout.planning import plan_sheets
from worker.make.full_size import make_full_size
from worker.make.pack import make_pack
from worker.pages import full_size
from worker.pages.full_size import on_one_page
from worker.pages.pack import Aids, PackText, write_full_size
from worker.reference.study_file import load_study
from worker.spec.plan import Plan
from worker.spec.spec import Print, Seams, Sheet, Spec, Support, Tone

MM_PER_PT = 25.4 / 72
#: Side of the parts here, in pixels.
PART_PX = 190
#: Two sheets, with lines over tones and nothing of ours on the picture.
SPEC = Spec(
    support=Support(width_mm=330, height_mm=140),
    tone=Tone(style="mixed"),
    seams=Seams(register_marks=False),
    print=Print(mirror=True, across_correction=1.01, down_correction=0.995),
)


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a taken-in photograph."""
    path = tmp_path_factory.mktemp("reference")
    with without_reading():
        taken(saved(Image.fromarray(skimage.data.astronaut()[60:300]), "PNG"), path)
    return path


def planned(reference: Path, spec: Spec) -> Plan:
    return plan_sheets(spec, load_study(reference / "study.npz"))


def made(reference: Path, spec: Spec, path: Path) -> Made:
    plan = planned(reference, spec)
    make_full_size(reference / "master.zip", spec, plan, title="Astronaut", path_pdf=path)
    return Made(path, spec, on_one_page(plan))


@pytest.fixture(scope="module")
def both(reference: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Made, Made]:
    """The sheets and the one page, in many parts."""
    folder = tmp_path_factory.mktemp("both")
    plan = planned(reference, SPEC)
    files = make_pack(reference / "master.zip", SPEC, plan, title="Astronaut", folder=folder)
    (folder / "number").write_text(files.number)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(full_size, "PART_PX", PART_PX)
        one = made(reference, SPEC, folder / "full-size.pdf")
    return Made(folder / "pack.pdf", SPEC, plan), one


@pytest.mark.parametrize("render", [by_pdfium, by_poppler])
def test_it_is_the_picture_of_the_joined_sheets(both: tuple[Made, Made], render: Render) -> None:
    """Compared pixel by pixel; where its parts meet no more than elsewhere."""
    sheets, one = (softened(joined(each, render)[0]) for each in both)
    off = np.abs(sheets - one)
    assert off.mean() < 1.2
    assert np.percentile(off, 99) < 20
    per_px = PX_PER_MM / 3 * 25.4 / both[1].plan.resolution.printed_ppi
    columns = np.arange(PART_PX * per_px, off.shape[1] - 2, PART_PX * per_px).astype(int)
    assert len(columns) > 5
    for aside in (-1, 0, 1):
        assert off[:, columns + aside].mean() < 1.5 * off.mean()


def softened(greys: Values) -> Values:
    """Means of three pixels each way: a line of one pixel is still seen, a shift of half not."""
    high, wide = (length // 3 * 3 for length in greys.shape)
    return np.asarray(greys[:high, :wide].reshape(high // 3, 3, wide // 3, 3).mean(axis=(1, 3)))


def test_no_line_of_paper_shines_between_its_parts(tmp_path: Path) -> None:
    """Cairo softens the edges of images: parts that only touch leave lines twice as light there."""
    with without_reading():
        taken(saved(Image.new("RGB", (300, 150), (60, 60, 60)), "PNG"), tmp_path)
    spec = Spec(support=SPEC.support, tone=Tone(style="colour"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(full_size, "PART_PX", PART_PX)
        one = made(tmp_path, spec, tmp_path / "full-size.pdf")
    ppi = 97
    command = ["pdftocairo", "-png", "-singlefile", "-r", str(ppi), str(one.pdf), "-"]
    shown = subprocess.run(command, capture_output=True, check=True).stdout
    greys = np.asarray(Image.open(io.BytesIO(shown)).convert("L"), int)
    place, per_mm = one.plan.pieces[0].sheet_rect_mm, ppi / 25.4
    inside = greys[
        round((place.top + 1) * per_mm) : round((place.bottom - 1) * per_mm),
        round((place.left + 1) * per_mm) : round((place.right - 1) * per_mm),
    ]
    assert np.ptp(inside) <= 1


def test_page_and_picture_measure_what_others_read(both: tuple[Made, Made]) -> None:
    """ISO 32000-1, 14.11.2: the TrimBox is the picture; nothing is corrected for a printer."""
    one = both[1]
    with pikepdf.open(one.pdf) as pdf:
        (page,) = pdf.pages
        assert "/UserUnit" not in page
        left, bottom, right, top = (float(side) * MM_PER_PT for side in page.TrimBox)
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
    assert (right - left, top - bottom) == pytest.approx((330, 140), abs=0.01)
    document = pypdfium2.PdfDocument(one.pdf)
    size_mm = [side * MM_PER_PT for side in document[0].get_size()]
    text = document[0].get_textpage().get_text_range().replace("\u00a0", " ")
    assert size_mm == pytest.approx([330 + 16, 140 + 28], abs=0.01)
    for says in ("100 %", "100 mm", "Astronaut", "330 × 140 mm", "Mirrored.", "Not corrected"):
        assert says in text
    number = both[0].pdf.with_name("number").read_text()
    assert number in text


def test_a_page_longer_than_a_page_may_be_has_larger_units(tmp_path: Path) -> None:
    """ISO 32000-1, table 30 and annex C: 14,400 units at the most, each of `UserUnit` points."""
    spec = Spec(
        support=Support(width_mm=5200, height_mm=200),
        sheet=Sheet(format="iso_a2_420x594mm"),
        tone=Tone(style="outline"),
    )
    plan, path = on_one_page(plan_for(spec)), tmp_path / "long.pdf"
    text = PackText(title="Frieze", number="7K3F-Q2ZD")
    write_full_size(path, spec=spec, plan=plan, text=text, printed=(), aids=Aids(), corrected=False)
    with pikepdf.open(path) as pdf:
        (page,) = pdf.pages
        unit = float(page.UserUnit)
        assert max(float(side) for side in page.MediaBox) <= 14_400
        wide = (float(page.TrimBox[2]) - float(page.TrimBox[0])) * unit * MM_PER_PT
        (first, *_) = pikepdf.parse_content_stream(page)
    assert wide == pytest.approx(5200, abs=0.01)
    assert [str(first.operator), float(first.operands[0]) * unit] == ["cm", pytest.approx(1)]


@pytest.mark.parametrize("size", [(20, 20), (300, 40), (60, 300)])
def test_small_pictures_have_room_for_both_bars(size: tuple[float, float], tmp_path: Path) -> None:
    """All ink lies on the page, and nothing of it on the picture."""
    spec = Spec(support=Support(width_mm=size[0], height_mm=size[1]), tone=Tone(style="outline"))
    plan, path = on_one_page(plan_for(spec)), tmp_path / "small.pdf"
    text = PackText(title="Study", number="7K3F-Q2ZD")
    write_full_size(path, spec=spec, plan=plan, text=text, printed=(), aids=Aids(), corrected=False)
    greys = by_pdfium(path, 1, 254.0)
    dark = greys < 128
    assert not np.concatenate((dark[:20], dark[-20:])).any()
    assert not np.concatenate((dark[:, :20], dark[:, -20:]), axis=1).any()
    place = plan.pieces[0].sheet_rect_mm
    assert not dark[82 : round(place.bottom * 10) - 2, 82 : round(place.right * 10) - 2].any()
    # The longest runs of ink in a row and in a column: the bars, or longer cuts.
    assert max(run(row) for row in dark) >= 1000
    assert max(run(column) for column in dark.T) >= 1000


def run(ink: npt.NDArray[np.bool_]) -> int:
    """The longest run of ink."""
    ends = np.flatnonzero(np.diff(np.concatenate(([False], ink, [False])).astype(int)))
    return int((ends[1::2] - ends[::2]).max(initial=0))
