"""A student's cover shows what their pack shows, and does not look for it again."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import numpy as np
import pikepdf
import pytest
import skimage.data
from PIL import Image

from tests.unit.reference.samples import saved, taken
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.make.print_run import StudentPack, make_cover
from worker.pages.class_papers.recipient import Recipient
from worker.pages.stroke_file import read_strokes, write_strokes
from worker.pdf.stroke_paths import LineWork
from worker.picture import found_style
from worker.picture.outline import find_strokes
from worker.reference.master import Master
from worker.reference.study_file import load_study
from worker.spec.spec import Spec, Support, Tone, ToneStyle
from worker.spec.strokes import Strokes

SUPPORT = Support(width_mm=300, height_mm=212)


@pytest.fixture(scope="module")
def handed(tmp_path_factory: pytest.TempPathFactory) -> Callable[[ToneStyle], StudentPack]:
    """The astronaut's pack in a style, made once."""
    home = tmp_path_factory.mktemp("reference")
    taken(saved(Image.fromarray(skimage.data.astronaut()[60:422]), "PNG"), home)
    made: dict[ToneStyle, StudentPack] = {}

    def give(style: ToneStyle) -> StudentPack:
        if style not in made:
            spec = Spec(support=SUPPORT, tone=Tone(style=style))
            plan = plan_sheets(spec, load_study(home / "study.npz"))
            folder = tmp_path_factory.mktemp(style)
            make_pack(home / "master.zip", spec, plan, title="Ada", folder=folder)
            made[style] = StudentPack(
                recipient=Recipient(name="Ann Lee"),
                spec=spec,
                plan=plan,
                title="Ada",
                number="7K3F-Q2ZD",
                pack_pdf=lambda: nullcontext(folder / "pack.pdf"),
                master=lambda: nullcontext(home / "master.zip"),
                strokes=lambda: nullcontext(folder / "strokes.npz"),
            )
        return made[style]

    return give


def cover_of(handed: StudentPack, path: Path) -> pikepdf.Pdf:
    make_cover(handed, path)
    return pikepdf.open(path)


def test_the_strokes_kept_are_those_that_were_found(
    handed: Callable[[ToneStyle], StudentPack], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    outline = handed("outline")
    with outline.master() as path, Master.open(path) as master:
        found = find_strokes(master, outline.spec, outline.plan, threads=1)
    with outline.strokes() as path:
        kept = read_strokes(path)
        assert path.stat().st_size < 250_000
    assert len(kept) == len(found) > 50
    # Whole hundredths of a millimetre, which is what the sheets draw.
    assert np.abs(kept.curves_mm - found.curves_mm).max() <= 0.005 + 1e-4
    for name in ("first", "weight", "length_mm"):
        assert np.array_equal(getattr(kept, name), getattr(found, name))
    # Finding them takes seconds, and a class has thirty.
    monkeypatch.setattr(found_style, "find_strokes", None)
    with cover_of(outline, tmp_path / "cover.pdf") as pdf:
        assert "/XObject" not in pdf.pages[0].Resources
        assert pdf.pages[0].Contents.read_bytes().count(b" m ") >= len(found)


def test_of_many_strokes_the_longest_are_kept(
    handed: Callable[[ToneStyle], StudentPack], tmp_path: Path
) -> None:
    with handed("outline").strokes() as path:
        lines = LineWork(strokes=read_strokes(path), line_mm=0.35)
    for name in ("one.npz", "two.npz"):
        write_strokes(tmp_path / name, lines, most=100)
    assert (tmp_path / "one.npz").read_bytes() == (tmp_path / "two.npz").read_bytes()
    few = read_strokes(tmp_path / "one.npz")
    assert 0 < len(few.curves_mm) <= 100
    assert few.first[-1] == len(few.curves_mm)
    # Form lines count double, so no plain one that was left out is twice as long as one kept.
    assert few.length_mm.min() * 2 >= np.sort(lines.strokes.length_mm)[-len(few) - 1]
    # A picture without any line keeps none.
    none = LineWork(strokes=_no_strokes(), line_mm=0.35)
    write_strokes(tmp_path / "none.npz", none, most=100)
    assert len(read_strokes(tmp_path / "none.npz")) == 0


def _no_strokes() -> Strokes:
    return Strokes(
        curves_mm=np.zeros((0, 4, 2), np.float32),
        first=np.zeros(1, np.int32),
        weight=np.zeros(0, np.uint8),
        length_mm=np.zeros(0, np.float32),
    )


@pytest.mark.parametrize(("style", "lined"), [("grey", False), ("mixed", True), ("values", False)])
def test_the_ground_below_is_the_printed_one(
    handed: Callable[[ToneStyle], StudentPack], tmp_path: Path, style: ToneStyle, *, lined: bool
) -> None:
    each = handed(style)
    with each.strokes() as kept:
        assert kept.exists() is lined
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
