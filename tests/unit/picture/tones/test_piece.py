"""The picture in tones: continuous over seams, without specks or steps, turned and mirrored."""

from __future__ import annotations

import dataclasses
import itertools
import tracemalloc
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
import pytest
import skimage.data
from PIL import Image
from scipy import ndimage

from tests.unit.reference.samples import Bytes, planned, saved, taken, taken_unread
from worker.picture.tones import Posterised, posterisation, posterise, values_part, values_piece
from worker.reference.master import Master
from worker.spec.plan import Plan, Rect
from worker.spec.spec import Area, Print, Spec, Support, Tone, Values

SIZE_PX = (1800, 1200)
WHOLE = Rect(0, 0, 300, 200)
#: 300 × 200 mm are 1200 × 800 pixels.
PPI = 101.6


def reference(folder: Path, picture: Bytes, take: Callable[..., object] = taken) -> Path:
    """A taken-in picture of 1800 × 1200 pixels."""
    photo = Image.fromarray(picture).resize(SIZE_PX, Image.Resampling.BICUBIC)
    take(saved(photo, "PNG", compress_level=1), folder)
    return folder / "master.zip"


@pytest.fixture(scope="module")
def portrait(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return reference(tmp_path_factory.mktemp("portrait"), skimage.data.astronaut()[20:361])


@pytest.fixture(scope="module")
def disc(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A dark disc of 60 mm with a soft edge, on light ground."""
    y, x = np.mgrid[0 : SIZE_PX[1], 0 : SIZE_PX[0]]
    far = np.hypot(x + 0.5 - 900, y + 0.5 - 600)
    grey = 60 + 140 * np.clip((far - 360) / 12 + 0.5, 0, 1)
    return reference(tmp_path_factory.mktemp("disc"), grey.astype(np.uint8))


def spec_of(*, tone: Tone | None = None, **changes: object) -> Spec:
    settings: dict[str, object] = {"support": Support(width_mm=300, height_mm=200), **changes}
    return Spec(tone=tone or Tone(style="values"), **settings)  # type: ignore[arg-type]


def found(path: Path, spec: Spec, threads: int = 2) -> tuple[Posterised, Plan]:
    plan = planned(spec, *SIZE_PX)
    with Master.open(path) as master:
        return posterise(master, spec, plan, threads=threads), plan


def shown(path: Path, spec: Spec, size: tuple[int, int] = (1200, 800)) -> Bytes:
    posterised, plan = found(path, spec)
    return np.asarray(values_part(posterised, plan, WHOLE, size))


@pytest.mark.parametrize("ppi", [25.4, PPI, 203.2])
def test_pieces_continue_each_other(portrait: Path, ppi: float) -> None:
    posterised, plan = found(portrait, spec_of())
    unit_mm = 25.4 / ppi
    size = (round(300 / unit_mm), round(200 / unit_mm))
    whole = np.asarray(values_part(posterised, plan, WHOLE, size))
    columns = [0, size[0] // 3, size[0] // 2, size[0]]
    rows = [0, size[1] // 2 - 1, size[1]]
    for (left, right), (top, bottom) in itertools.product(pairwise(columns), pairwise(rows)):
        place = (left * unit_mm, top * unit_mm, (right - left) * unit_mm, (bottom - top) * unit_mm)
        piece = values_part(posterised, plan, Rect(*place), (right - left, bottom - top))
        assert np.array_equal(np.asarray(piece), whole[top:bottom, left:right])


def test_a_piece_holds_its_tones_alone_and_whole_pixels(portrait: Path) -> None:
    spec = spec_of(print=Print(resolution_ppi=150))
    posterised, plan = found(portrait, spec)
    for piece in plan.pieces:
        picture = values_piece(posterised, spec, plan, piece)
        rect = piece.picture_rect_mm
        # A photo of 152 pixels per inch: borders are as sharp as may be printed all the same.
        assert abs(picture.width - rect.width * 150 / 25.4) <= 1
        assert picture.mode == "L"
        assert set(np.unique(np.asarray(picture)).tolist()) <= set(posterised.tones)


@pytest.mark.parametrize(("count", "smallest_mm"), [(3, 2.0), (5, 4.0), (7, 2.0)])
def test_there_are_no_specks(portrait: Path, count: int, smallest_mm: float) -> None:
    values = Values(count=count, smallest_mm=smallest_mm)
    posterised, plan = found(portrait, spec_of(tone=Tone(style="values", values=values)))
    # Lines between patches are narrower than any patch.
    patches_alone = dataclasses.replace(posterised, lines=None)
    picture = np.asarray(values_part(patches_alone, plan, WHOLE, (2400, 1600)))
    narrow, patches = [], 0
    for tone in np.unique(picture):
        # Beyond the picture's edge a patch goes on.
        mask = np.pad((picture == tone).astype(np.uint8), 60, mode="edge")
        # OpenCV's, which are as exact as SciPy's and take a tenth of their time.
        far = cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[60:-60, 60:-60]
        number, places = cv2.connectedComponents(mask[60:-60, 60:-60], connectivity=8)
        widest = np.zeros(number, np.float32)
        np.maximum.at(widest, places, far)
        narrow += [width for width in 2 * widest[1:] / 8 if width < smallest_mm]
        patches += number - 1
    # The smoothing of borders takes a little off the smallest round ones.
    assert len(narrow) <= 0.08 * patches
    assert all(width >= 0.75 * smallest_mm for width in narrow)


def test_a_border_is_where_the_grey_crosses_and_has_no_steps(disc: Path) -> None:
    tone = Tone(style="values", values=Values(count=3, thresholds=(0.2, 0.5)))
    picture = shown(disc, spec_of(tone=tone), (3000, 2000))
    dark = picture < 200
    y, x = np.nonzero(dark & ~ndimage.binary_erosion(dark))
    away_mm = np.hypot(x + 0.5 - 1500, y + 0.5 - 1000) / 10
    # Grey 127.5 lies 60 + 140 t = 127.5 of the way, at t = 0.482: 0.04 mm inside of 60 mm.
    assert away_mm.mean() == pytest.approx(60.0, abs=0.12)
    assert away_mm.std() < 0.06


def test_no_middle_tone_runs_along_a_sharp_edge(disc: Path) -> None:
    tone = Tone(style="values", values=Values(count=5, thresholds=(0.3, 0.45, 0.55, 0.7)))
    posterised, plan = found(disc, spec_of(tone=tone))
    picture = np.asarray(values_part(posterised, plan, WHOLE, (3000, 2000)))
    assert set(np.unique(picture).tolist()) == {posterised.tones[0], posterised.tones[4]}


def test_mirrored_it_is_the_mirror_image(portrait: Path) -> None:
    plain = shown(portrait, spec_of())
    mirrored = shown(portrait, spec_of(print=Print(mirror=True)))
    # Where two neighbours are as good, the first is taken, which is another one mirrored.
    assert np.mean(mirrored[:, ::-1] != plain) < 0.004


def test_turned_it_turns_as_the_picture_does(disc: Path) -> None:
    # A disc about the crop's centre stays where it is.
    crop = Area(left=0.25, top=0.25, width=0.5, height=0.5)
    tone = Tone(style="values", values=Values(count=3, thresholds=(0.3, 0.5)))
    plain, turned = (
        shown(disc, spec_of(tone=tone, crop=crop, rotate_deg=degrees), (600, 400))
        for degrees in (0, 20)
    )
    assert np.mean(plain != turned) < 0.005


def test_all_numbers_of_threads_give_the_same(portrait: Path) -> None:
    (one, _), (four, _) = found(portrait, spec_of(), 1), found(portrait, spec_of(), 4)
    assert np.array_equal(one.cells, four.cells)
    assert np.array_equal(one.fine, four.fine)
    assert one.tones == four.tones


def test_thresholds_by_hand_are_kept_and_lightening_comes_before(portrait: Path) -> None:
    by_hand = Values(count=3, thresholds=(0.25, 0.6))
    dark, _ = found(portrait, spec_of(tone=Tone(style="values", values=by_hand)))
    assert dark.thresholds == pytest.approx((0.25, 0.6))
    light, _ = found(portrait, spec_of(tone=Tone(style="values", values=by_hand, lighten=0.5)))
    # Half of the way to white, all of 0.25 and less has left the darkest tone.
    assert np.count_nonzero(light.cells == 0) == 0
    assert light.shares[0] == 0 < dark.shares[0]


def test_thresholds_found_move_with_lightening(tmp_path: Path) -> None:
    """Of four washes that each vary by a sixth of a step, which have one best division."""
    wash = np.repeat(np.array([40.0, 100.0, 160.0, 220.0]), 75)
    grain = np.random.default_rng(7).normal(0, 10, (200, 300))
    washes = reference(tmp_path, np.clip(wash + grain, 0, 255).astype(np.uint8), taken_unread)
    of_four = Values(count=4)
    less, light = (
        found(washes, spec_of(tone=Tone(style="values", values=of_four, lighten=each)))[0]
        for each in (0.0, 0.5)
    )
    wanted = [0.5 + each / 2 for each in less.thresholds]
    assert light.thresholds == pytest.approx(wanted, abs=0.02)


def test_a_blank_photo_is_one_tone(tmp_path: Path) -> None:
    white = reference(tmp_path, np.full((20, 30), 255, np.uint8), taken_unread)
    assert np.all(shown(white, spec_of()) == 255)


def test_shares_are_those_of_the_print(portrait: Path) -> None:
    posterised, plan = found(portrait, spec_of())
    picture = np.asarray(values_part(posterised, plan, WHOLE, (1200, 800)))
    printed = [float((picture == tone).mean()) for tone in posterised.tones]
    assert posterised.shares == pytest.approx(printed, abs=0.01)
    assert sum(posterised.shares) == pytest.approx(1.0)


def test_a_mural_takes_little_memory(portrait: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the cell, of which there are never more than so many; here a quarter of them."""
    most_cells = posterisation.MAX_CELLS
    monkeypatch.setattr(posterisation, "MAX_CELLS", most_cells // 4)
    spec = Spec(support=Support(width_mm=3000, height_mm=2000), tone=Tone(style="values"))
    plan = planned(spec, *SIZE_PX)
    with Master.open(portrait) as master:
        tracemalloc.start()
        posterised = posterise(master, spec, plan)
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert posterised.cells.size == pytest.approx(most_cells // 4, rel=0.01)
    # The program itself takes some 80 MB; all together must stay below 250 (DESIGN.md). What is
    # read at once is the same for any number of cells, and takes 3 MB.
    assert most - 3e6 < (165e6 - 3e6) / 4
