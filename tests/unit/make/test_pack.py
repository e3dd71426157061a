"""Making a pack: whole files or none, in order, told and stopped between pieces."""

from __future__ import annotations

import functools
import io
import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pypdfium2
import pytest
import skimage.data
from PIL import Image

from tests.unit.reference.samples import saved, taken
from worker.errors import Cancelled, NotFound
from worker.layout.planning import plan_sheets
from worker.make import pack
from worker.make import style as styling
from worker.make.ahead import AHEAD
from worker.make.pack import PackFiles, Progress, make_pack, make_sheet, pack_number
from worker.picture.preview import preview
from worker.reference.study_file import load_study
from worker.spec.plan import Plan, first_sheet_page
from worker.spec.spec import Grid, Print, Spec, Support, Tone, ToneStyle

SPEC = Spec(support=Support(width_mm=420, height_mm=297))


@pytest.fixture(scope="module")
def reference(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a taken-in photograph."""
    path = tmp_path_factory.mktemp("reference")
    taken(saved(Image.fromarray(skimage.data.astronaut()[60:422]), "PNG"), path)
    return path


def planned(reference: Path, spec: Spec = SPEC) -> Plan:
    return plan_sheets(spec, load_study(reference / "study.npz"))


def files_of(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_pack_is_three_whole_files(reference: Path, tmp_path: Path) -> None:
    plan = planned(reference)
    told: list[Progress] = []
    here = threading.get_ident()

    def tell(progress: Progress) -> None:
        assert threading.get_ident() == here
        told.append(progress)

    files = make_pack(
        reference / "master.zip", SPEC, plan, title="Étude 習作", folder=tmp_path, progress=tell
    )
    assert (files.pack_pdf, files.map_png) == (tmp_path / "pack.pdf", tmp_path / "map.png")
    assert files_of(tmp_path) == ["map.png", "pack.pdf", "picture.jpg"]
    with pikepdf.open(files.pack_pdf) as pdf:
        assert (
            len(pdf.pages)
            == first_sheet_page(plan.sheet_count, 210, gridded=False) - 1 + plan.sheet_count
        )
    with Image.open(files.map_png) as picture:
        # A4 at 110 ppi.
        assert picture.size == (910, 1287)
    assert [one.done for one in told] == [0, *range(1, plan.sheet_count + 1), plan.sheet_count]
    assert [one.step for one in told] == ["reading", *["sheets"] * plan.sheet_count, "writing"]
    assert {one.total for one in told} == {plan.sheet_count}


MODES: dict[ToneStyle, str] = {
    "grey": "L",
    "colour": "RGB",
    "outline": "L",
    "mixed": "L",
    "values": "L",
}


def in_style(style: ToneStyle) -> Spec:
    return Spec(
        support=Support(width_mm=300, height_mm=200),
        tone=Tone(style=style),
        grid=Grid(square_mm=60),
    )


def twice(reference: Path, style: ToneStyle, folder: Path, threads: int) -> PackFiles:
    """A pack in a style, in a folder of its own, made with so many threads."""
    spec, own = in_style(style), folder / f"{style} {threads}"
    own.mkdir()
    plan = planned(reference, spec)
    return make_pack(
        reference / "master.zip", spec, plan, title="Twice", folder=own, threads=threads
    )


@pytest.fixture(scope="module")
def packs(
    reference: Path, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[ToneStyle], PackFiles]:
    """A pack in each style, made with one thread, once."""
    folder = tmp_path_factory.mktemp("packs")
    return functools.cache(lambda style: twice(reference, style, folder, 1))


@pytest.mark.parametrize("style", MODES)
def test_the_same_photo_and_spec_give_the_same_bytes(
    reference: Path, packs: Callable[[ToneStyle], PackFiles], tmp_path: Path, style: ToneStyle
) -> None:
    assert len(planned(reference, in_style(style)).pieces) > 1
    one, four = packs(style), twice(reference, style, tmp_path, 4)
    assert one.pack_pdf.read_bytes() == four.pack_pdf.read_bytes()
    assert one.map_png.read_bytes() == four.map_png.read_bytes()


@pytest.mark.parametrize(("style", "mode"), MODES.items())
def test_the_picture_for_a_screen_is_what_is_printed(
    reference: Path, packs: Callable[[ToneStyle], PackFiles], style: ToneStyle, mode: str
) -> None:
    """Held against the preview, which is made another way: from the photo, for a screen."""
    spec, files = in_style(style), packs(style)
    plan = planned(reference, spec)
    with Image.open(files.picture_jpg) as shown:
        assert (shown.mode, shown.format) == (mode, "JPEG")
        # 300 × 200 mm.
        assert shown.size == (1200, 800)
        seen = preview(reference / "master.zip", spec, plan, 1200)
        with Image.open(io.BytesIO(seen.png)) as wanted:
            greys = [np.asarray(one.convert("L"), float) for one in (shown, wanted)]
    off = np.abs(greys[0] - greys[1])
    assert off.mean() < 3
    assert np.percentile(off, 99) < 40
    assert files.picture_jpg.stat().st_size < 400_000


@pytest.mark.parametrize("after", [0, 1, 2])
def test_cancelling_is_looked_at_between_pieces_and_leaves_nothing(
    reference: Path, tmp_path: Path, after: int
) -> None:
    told: list[Progress] = []
    with pytest.raises(Cancelled):
        make_pack(
            reference / "master.zip",
            SPEC,
            planned(reference),
            title="Never mind",
            folder=tmp_path,
            progress=told.append,
            cancelled=lambda: len(told) > after,
        )
    assert len(told) == after + 1
    assert files_of(tmp_path) == []


def test_a_piece_that_fails_leaves_nothing(
    reference: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise OSError("no space left on device")

    monkeypatch.setattr(styling, "enlarge_piece", fail)
    with pytest.raises(OSError, match="no space"):
        make_pack(reference / "master.zip", SPEC, planned(reference), title="", folder=tmp_path)
    assert files_of(tmp_path) == []


def test_pieces_come_in_page_order_and_few_are_begun_ahead(
    reference: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    spec = Spec(support=Support(width_mm=1500, height_mm=1060))
    plan = planned(reference, spec)
    assert plan.sheet_count > 20
    begun, written = [], []
    enlarge = styling.enlarge_piece

    def watched(*arguments: object, **options: object) -> Image.Image:
        begun.append(arguments[3])
        return enlarge(*arguments, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(styling, "enlarge_piece", watched)

    def ahead(progress: Progress) -> None:
        written.append(progress.done)
        assert len(begun) <= progress.done + AHEAD + 1

    make_pack(reference / "master.zip", spec, plan, title="", folder=tmp_path, progress=ahead)
    assert written[1:-1] == list(range(1, plan.sheet_count + 1))


def test_one_sheet_alone_has_the_pack_s_number(reference: Path, tmp_path: Path) -> None:
    plan = planned(reference)
    pdf, png = tmp_path / "A2.pdf", tmp_path / "A2.png"
    make_sheet(
        reference / "master.zip", SPEC, plan, "1·2", title="Reprint", path_pdf=pdf, path_png=png
    )
    with pikepdf.open(pdf) as one:
        assert len(one.pages) == 1
    with Image.open(png) as picture:
        assert picture.size == (1241, 1754)
    with pytest.raises(NotFound, match="26·9"):
        make_sheet(reference / "master.zip", SPEC, plan, "26·9", title="", path_pdf=pdf)


def test_a_reprint_keeps_the_number_that_an_earlier_version_counted(
    reference: Path, tmp_path: Path
) -> None:
    numbers = ("0LDE-R111", None)
    paths = [tmp_path / "told.pdf", tmp_path / "counted.pdf"]
    for path, number in zip(paths, numbers, strict=True):
        make_sheet(
            reference / "master.zip",
            SPEC,
            planned(reference),
            "1·2",
            title="Reprint",
            path_pdf=path,
            number=number,
        )
    told, counted = (
        pypdfium2.PdfDocument(path)[0].get_textpage().get_text_range() for path in paths
    )
    assert "0LDE-R111" in told
    assert "0LDE-R111" not in counted


def test_large_pieces_in_colour_are_made_one_at_a_time(reference: Path) -> None:
    colour = Spec(
        support=Support(width_mm=280, height_mm=190),
        tone=Tone(style="colour"),
        print=Print(resolution_ppi=600),
    )
    plan = planned(reference, colour)
    assert pack._workers(plan, SPEC, 4) == 4
    huge = pack._workers(_with_resolution(plan, 600.0), colour, 4)
    assert huge == 1


def _with_resolution(plan: Plan, printed_ppi: float) -> Plan:
    return replace(plan, resolution=replace(plan.resolution, printed_ppi=printed_ppi))


def test_the_number_tells_what_is_printed() -> None:
    number = pack_number("digest", SPEC, "Pear")
    assert number == pack_number(
        "digest", Spec(support=Support(width_mm=420.0, height_mm=297.0)), "Pear"
    )
    others = {
        pack_number("other", SPEC, "Pear"),
        pack_number("digest", SPEC, "Peach"),
        pack_number("digest", Spec(support=Support(width_mm=421, height_mm=297)), "Pear"),
        pack_number("digest", replace(SPEC, language="it"), "Pear"),
    }
    assert number not in others
    assert len(others) == 4
    left, right = number.split("-")
    assert len(left) == len(right) == 4
    # Crockford's base 32 leaves out what is misread from paper.
    assert not set(left + right) & set("ILOU")
