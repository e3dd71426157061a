"""A student's cover shows what their pack shows, and does not look for it again."""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import skimage.data
from PIL import Image

from tests.unit.imaging.samples import saved, taken
from worker import styling
from worker.drawing.handout import Whose
from worker.drawing.map_lines import read_map_lines
from worker.imaging import load_study
from worker.imaging.master import Master
from worker.imaging.outline import find_strokes
from worker.layout import plan_sheets
from worker.layout.spec import Spec, Support, Tone, ToneStyle
from worker.layout.strokes import Strokes
from worker.making import make_pack
from worker.print_run import Handed, make_cover

SUPPORT = Support(width_mm=180, height_mm=127)


@pytest.fixture(scope="module")
def handed(tmp_path_factory: pytest.TempPathFactory) -> Callable[[ToneStyle], Handed]:
    """The astronaut's pack in a style, made once."""
    home = tmp_path_factory.mktemp("reference")
    taken(saved(Image.fromarray(skimage.data.astronaut()[60:422]), "PNG"), home)
    made: dict[ToneStyle, Handed] = {}

    def give(style: ToneStyle) -> Handed:
        if style not in made:
            spec = Spec(support=SUPPORT, tone=Tone(style=style))
            plan = plan_sheets(spec, load_study(home / "study.npz"))
            folder = tmp_path_factory.mktemp(style)
            pack = make_pack(home / "master.zip", spec, plan, title="Ada", folder=folder).pack_pdf
            made[style] = Handed(
                whose=Whose(name="Ann Lee"),
                spec=spec,
                plan=plan,
                title="Ada",
                number="7K3F-Q2ZD",
                pack_pdf=lambda: nullcontext(pack),
                master=lambda: nullcontext(home / "master.zip"),
            )
        return made[style]

    return give


def cover_of(handed: Handed, path: Path) -> pikepdf.Pdf:
    with handed.pack_pdf() as pack, pack.open("rb") as file:
        make_cover(handed, file, path)
    return pikepdf.open(path)


def test_lines_are_read_back_as_they_were_found(
    handed: Callable[[ToneStyle], Handed], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    outline = handed("outline")
    with outline.master() as path, Master.open(path) as master:
        found = find_strokes(master, outline.spec, outline.plan, threads=1)
    with outline.pack_pdf() as path, path.open("rb") as file:
        read = read_map_lines(file, outline.plan.picture.width_mm)
    assert len(read) == len(found) > 50
    # The map writes whole fiftieths of a millimetre of its own page, weight by weight.
    off_mm = np.abs(ends(read) - ends(found)).max()
    assert off_mm <= 0.02 * outline.plan.picture.width_mm / 150
    assert [np.count_nonzero(read.weight == each) for each in range(3)] == [
        np.count_nonzero(found.weight == each) for each in range(3)
    ]
    # Finding them takes seconds, and a class has thirty.
    monkeypatch.setattr(styling, "find_strokes", None)
    with cover_of(outline, tmp_path / "cover.pdf") as pdf:
        assert "/XObject" not in pdf.pages[0].Resources
        assert pdf.pages[0].Contents.read_bytes().count(b" m ") >= len(found)


def ends(strokes: Strokes) -> np.ndarray:
    """Where each stroke begins and ends, by weight and place."""
    first, last = strokes.first[:-1], strokes.first[1:] - 1
    both = np.hstack([strokes.curves_mm[first, 0], strokes.curves_mm[last, 3]])
    # The map draws them in this order: weight by weight, as they were found.
    return np.asarray(both[np.argsort(strokes.weight, kind="stable")])


@pytest.mark.parametrize(("style", "lined"), [("grey", False), ("mixed", True), ("values", False)])
def test_the_ground_below_is_the_printed_one(
    handed: Callable[[ToneStyle], Handed], tmp_path: Path, style: ToneStyle, *, lined: bool
) -> None:
    each = handed(style)
    with each.pack_pdf() as path, path.open("rb") as file:
        assert (len(read_map_lines(file, each.plan.picture.width_mm)) > 0) is lined
    with cover_of(each, tmp_path / "cover.pdf") as pdf, each.pack_pdf() as path:
        tones = tones_of(pdf)
        with pikepdf.open(path) as pack:
            # Of the cover and of the map, which is larger: how light, and how much it differs.
            assert np.percentile(tones, [5, 50, 95]) == pytest.approx(
                np.percentile(tones_of(pack), [5, 50, 95]), abs=6
            )


def tones_of(pdf: pikepdf.Pdf) -> np.ndarray:
    (image,) = pdf.pages[0].Resources.XObject.values()
    return np.asarray(pikepdf.PdfImage(image).as_pil_image().convert("L"))


def test_what_is_no_pack_is_said_so() -> None:
    with pytest.raises(ValueError, match="trailer"):
        read_map_lines(io.BytesIO(b"%PDF-1.6"), 100.0)
