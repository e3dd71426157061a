"""The grid alone: two pages on paper, and a picture large enough for one square."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
import skimage.data
from PIL import Image

from tests.unit.reference.samples import saved, taken
from tests.unread import without_reading
from worker.layout.planning import plan_sheets
from worker.make.grid import grid_picture, make_grid_pages
from worker.reference.study_file import load_study
from worker.spec.plan import Plan
from worker.spec.spec import Grid, Spec, Support, Tone

#: Wider than the page's own proportions, so that half the height of the photo is left out.
SPEC = Spec(
    support=Support(width_mm=400, height_mm=200, border_mm=0.0),
    tone=Tone(style="colour"),
    grid=Grid(square_mm=50),
)


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a taken-in photograph of 400 × 362 pixels."""
    path = tmp_path_factory.mktemp("reference")
    with without_reading():
        taken(saved(Image.fromarray(skimage.data.astronaut()[:362, :400]), "PNG"), path)
    return path


@pytest.fixture(scope="module")
def plan(reference: Path) -> Plan:
    """The plan of the whole job; of its sheets nothing is drawn."""
    return plan_sheets(SPEC, load_study(reference / "study.npz"))


def test_two_pages_name_themselves_and_each_other(
    reference: Path, plan: Plan, tmp_path: Path
) -> None:
    path = tmp_path / "grid.pdf"
    make_grid_pages(reference / "master.zip", SPEC, plan, title="Quinces", path=path)
    with pikepdf.open(path) as pdf:
        assert len(pdf.pages) == 2
        assert pdf.Root.ViewerPreferences.PrintScaling == pikepdf.Name("/None")
    with pypdfium2.PdfDocument(path) as pages:
        first, second = (page.get_textpage().get_text_bounded() for page in pages)
    assert "page 1 of 2" in first
    assert "Quinces" in first
    # Eight columns; i is left out of their letters, and c4 is the last square of column c.
    assert "a to h" in first
    assert "page 2 of 2" in second
    assert "as on page 1" in second
    # Ticks from one edge, each from the whole.
    assert all(str(place) in second for place in (50, 150, 250, 350))


def test_the_picture_has_the_crops_own_pixels(reference: Path, plan: Plan) -> None:
    with Image.open(io.BytesIO(grid_picture(reference / "master.zip", SPEC, plan))) as shown:
        assert shown.format == "JPEG"
        # Of 400 pixels no more can be made.
        assert shown.size == (400, 200)
        middle = np.asarray(shown.convert("RGB"), float)
    top = round(plan.crop.top * 362)
    expected = skimage.data.astronaut()[top : top + 200, :400].astype(float)
    assert np.abs(middle - expected).mean() < 6


def test_lines_are_drawn_finer_than_the_photo(reference: Path) -> None:
    spec = Spec(support=SPEC.support, tone=Tone(style="outline"), grid=SPEC.grid)
    lined = plan_sheets(spec, load_study(reference / "study.npz"))
    with Image.open(io.BytesIO(grid_picture(reference / "master.zip", spec, lined))) as shown:
        assert shown.size == (3200, 1600)
        assert np.asarray(shown).min() < 64
