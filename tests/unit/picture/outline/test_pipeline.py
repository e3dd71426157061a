"""Strokes from end to end: where they lie, what they are made of, and what makes none."""

from __future__ import annotations

import functools
import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from tests.bench.outline import OTHERS, longest, rated
from tests.pictures.known_lines import Drawing, drawing, spoilt
from tests.pictures.photographs import as_jpeg, as_png, photograph
from tests.unit.picture.outline.lines import (
    Bytes,
    Floats,
    found,
    found_for,
    found_in,
    sampled,
    spec_of,
    strokes_on,
)
from tests.unit.reference.samples import taken
from worker.layout.planning import plan_sheets
from worker.picture.outline import find_strokes, pipeline
from worker.picture.outline.detected_points import Artefacts
from worker.picture.outline.feature_lines.face_lines import FeatureLines
from worker.picture.outline.pipeline import find_points, strokes_of
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.picture.outline.polylines import Polylines
from worker.picture.outline.rims.drawing import with_rims
from worker.reference.master import Master
from worker.reference.study_file import load_study
from worker.spec.spec import Area, Outline, Spec
from worker.spec.strokes import FORM, INNER, Strokes

PX_PER_MM = 8


def disc(width: int = 960, height: int = 640, radius: float = 200.0, grey: int = 60) -> Bytes:
    """A dark disc in the middle of a light ground, with soft steps as a camera has them."""
    down, across = np.mgrid[:height, :width]
    far = np.hypot(across + 0.5 - width / 2, down + 0.5 - height / 2)
    inside = np.clip(radius - far + 0.5, 0, 1)
    return np.rint(220 - (220 - grey) * inside).astype(np.uint8)


def same(one: Strokes, two: Strokes) -> bool:
    """Whether they are the same to the last bit."""
    return all(
        np.array_equal(getattr(one, field.name), getattr(two, field.name))
        for field in fields(Strokes)
    )


def middle_of(strokes: Strokes) -> Floats:
    """Distances of all places from (60, 40) mm."""
    return np.asarray(np.hypot(*(sampled(strokes) - (60.0, 40.0)).T))


def test_a_disc_is_one_closed_stroke_at_its_edge(tmp_path: Path) -> None:
    strokes = found(disc(), spec_of(120, 80), tmp_path)
    assert len(strokes) == 1
    assert middle_of(strokes) == pytest.approx(np.full(len(sampled(strokes)), 25.0), abs=0.08)
    assert np.allclose(strokes.curves_mm[0, 0], strokes.curves_mm[-1, 3])
    assert strokes.length_mm[0] == pytest.approx(2 * math.pi * 25, rel=0.005)
    assert strokes.weight[0] == FORM


def test_curves_of_a_stroke_continue_one_another(tmp_path: Path) -> None:
    strokes = found(photograph("astronaut"), spec_of(200, 200), tmp_path)
    assert strokes.first[0] == 0
    assert strokes.first[-1] == len(strokes.curves_mm)
    assert (np.diff(strokes.first) > 0).all()
    starts = np.zeros(len(strokes.curves_mm), bool)
    starts[strokes.first[:-1]] = True
    assert np.array_equal(
        strokes.curves_mm[1:][~starts[1:], 0], strokes.curves_mm[:-1][~starts[1:], 3]
    )
    assert {INNER, FORM} < set(strokes.weight.tolist())
    assert (strokes.curves_mm[:, [0, 3]] >= 0).all()
    assert (strokes.curves_mm[:, [0, 3]] <= 200).all()


@pytest.mark.parametrize("pen_mm", [0.25, 0.5, 0.8])
def test_a_pen_stroke_is_traced_once_along_its_middle(pen_mm: float, tmp_path: Path) -> None:
    """An edge detector gives both sides."""
    finer = 4
    paper = Image.new("L", (120 * PX_PER_MM * finer, 80 * PX_PER_MM * finer), 230)
    scale = PX_PER_MM * finer
    way = [(20 * scale, 20 * scale), (100 * scale, 60 * scale)]
    ImageDraw.Draw(paper).line(way, 40, round(pen_mm * scale))
    strokes = found(np.asarray(paper.reduce(finer)), spec_of(120, 80), tmp_path)
    assert len(strokes) == 1
    places = sampled(strokes)
    across = np.array([-40.0, 80.0]) / math.hypot(40, 80)
    assert np.abs((places - (20.0, 20.0)) @ across).max() < 0.18
    assert strokes.length_mm[0] == pytest.approx(math.hypot(80, 40), abs=2.5)


def test_a_mirrored_print_has_mirrored_strokes(tmp_path: Path) -> None:
    known = drawing(4, 100, 100)
    specs = [spec_of(100, 100, mirror=mirror) for mirror in (False, True)]
    plain, mirrored = found_for(as_png(known.grey), specs, tmp_path)
    there = sampled(plain) * (-1, 1) + (100, 0)
    apart, _ = cKDTree(sampled(mirrored)).query(there)
    assert np.quantile(apart, 0.99) < 0.15
    assert mirrored.length_mm.sum() == pytest.approx(plain.length_mm.sum(), rel=0.02)


def test_a_turned_crop_has_turned_strokes(tmp_path: Path) -> None:
    """A positive turn turns what is in the picture clockwise, about the crop's middle."""
    known = drawing(5, 200, 200)
    crop = Area(left=0.25, top=0.25, width=0.5, height=0.5)
    strokes = found(known.grey, spec_of(100, 100, rotate_deg=12.0, crop=crop), tmp_path)
    turn = math.radians(12.0)
    x, y = (known.lines - 100.0).T
    turned = np.stack(
        (x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)), 1
    )
    away, which = cKDTree(turned + 50.0).query(sampled(strokes))
    assert len(strokes) > 3
    assert (away <= 0.3 + known.half_mm[which]).mean() > 0.98


def test_where_tiles_end_changes_nothing() -> None:
    grey = drawing(6, 150, 100).grey[::2, ::2]
    sampled_picture = SampledPicture(grey=np.ascontiguousarray(grey), across_mm=0.25, down_mm=0.25)
    quiet = Artefacts(noise=0.0, step=0.0)
    with ThreadPoolExecutor(2) as pool:
        whole = strokes_on(sampled_picture, Outline(), quiet, pool, tile_px=1024)
        for tile_px in (52, 128, 300):
            assert same(strokes_on(sampled_picture, Outline(), quiet, pool, tile_px=tile_px), whole)
    assert len(whole) > 5


def test_the_border_of_texture_is_a_line_and_what_is_inside_is_none() -> None:
    """Its quieter side tells; clumps like fur on the left, half as strong as the border."""
    clumps = gaussian_filter(np.random.default_rng(1).normal(0, 1, (400, 600)), 2)
    picture = np.full((400, 600), 160.0)
    picture[:, :300] = 120.0 + 20.0 * clumps[:, :300] / clumps.std()
    grey = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
    sampled_picture = SampledPicture(grey=grey, across_mm=0.25, down_mm=0.25)
    quiet = Artefacts(noise=0.0, step=0.0)
    with ThreadPoolExecutor(2) as pool:
        across_mm = sampled(strokes_on(sampled_picture, Outline(), quiet, pool))[:, 0]
    # Places are a tenth of a millimetre apart, and the border is 100 mm long.
    assert (np.abs(across_mm - 75.0) < 1.5).sum() > 750
    assert (across_mm < 73.5).sum() < 300


def test_the_same_photo_gives_the_same_strokes_on_any_number_of_threads(tmp_path: Path) -> None:
    spec = spec_of(150, 100)
    one, plan = found_in(as_png(photograph("coffee")[::2, ::2]), spec, tmp_path, threads=1)
    with Master.open(tmp_path / "master.zip") as master:
        for threads in (2, 5):
            assert same(find_strokes(master, spec, plan, threads=threads), one)


@pytest.mark.parametrize("noise", [0.0, 3.0, 8.0, 16.0])
def test_a_flat_picture_has_no_lines_whatever_its_grain(noise: float, tmp_path: Path) -> None:
    grey = spoilt(np.full((800, 1200), 128, np.uint8), noise, None, seed=3)
    specs = [spec_of(300, 200, detail=detail) for detail in (0.5, 0.8)]
    assert [len(strokes) for strokes in found_for(as_png(grey), specs, tmp_path)] == [0, 0]


@pytest.mark.parametrize(
    ("size", "quality"),
    # Where blocks are as small as details, two qualities are enough.
    [
        *(((600, 400), each) for each in (10, 20, 75)),
        *(((2400, 1600), each) for each in (20, 75)),
    ],
)
def test_blocks_of_compression_are_no_lines(
    quality: int, size: tuple[int, int], tmp_path: Path
) -> None:
    """A smooth slope falls into blocks: nothing in it is a line of the scene."""
    width, height = size
    down, across = np.mgrid[:height, :width]
    slope = 80 + 100 * across / width + 30 * down / height
    data = as_jpeg(Image.fromarray(slope.astype(np.uint8)), quality)
    specs = [spec_of(300, 200, detail=detail) for detail in (0.5, 1.0)]
    for strokes in found_for(data, specs, tmp_path):
        assert len(strokes) == 0


@pytest.mark.parametrize("size", [(16, 16), (16, 21), (200, 16)])
def test_tiny_pictures_are_no_trouble(size: tuple[int, int], tmp_path: Path) -> None:
    grey = np.random.default_rng(2).integers(0, 255, size).astype(np.uint8)
    crop = Area(left=0.4, top=0.4, width=0.05, height=0.05 * size[1] / size[0])
    specs = [spec_of(100, 80), spec_of(100, 100, crop=crop)]
    for strokes in found_for(as_png(grey), specs, tmp_path):
        assert strokes.first[-1] == len(strokes.curves_mm)


@pytest.fixture(scope="module")
def coffee(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a photograph that was taken in."""
    folder = tmp_path_factory.mktemp("coffee")
    taken(as_png(photograph("coffee")), folder)
    return folder


def strokes_of_coffee(folder: Path, specs: list[Spec]) -> list[Strokes]:
    """The strokes of the photograph for each spec."""
    study = load_study(folder / "study.npz")
    with Master.open(folder / "master.zip") as master:
        return [find_strokes(master, spec, plan_sheets(spec, study)) for spec in specs]


def test_more_detail_never_draws_less(coffee: Path) -> None:
    specs = [spec_of(150, 100, detail=detail) for detail in (0.0, 0.25, 0.5, 0.75, 1.0)]
    drawn = [strokes.length_mm.sum() for strokes in strokes_of_coffee(coffee, specs)]
    assert drawn == sorted(drawn)
    assert drawn[0] < 0.5 * drawn[-1]


def test_shorter_strokes_than_asked_for_are_left_out(coffee: Path) -> None:
    specs = [spec_of(150, 100, shortest_mm=shortest_mm) for shortest_mm in (2.0, 4.0, 10.0, 30.0)]
    counts = []
    for spec, strokes in zip(specs, strokes_of_coffee(coffee, specs), strict=True):
        assert strokes.length_mm.min() >= spec.tone.outline.shortest_mm * 0.9
        counts.append(len(strokes))
    assert counts == sorted(counts, reverse=True)
    assert counts[-1] > 0


def test_what_goes_beside_rims_leaves_numbers_of_lines_as_they_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Only own lines may go on, and not those that are added, as of eyes."""
    asked: list[tuple[int, int]] = []

    def with_one_beside(*given: Any) -> Any:
        rims = with_rims(*given)
        return replace(rims, beside=np.arange(len(rims.beside)) == 0)

    def of_lines(_placed: object, _grid: object, lines: Polylines, weight: Any, _: object) -> Any:
        asked.append((len(lines.closed), len(weight)))
        return Polylines.of([]), np.zeros(0, np.uint8)

    monkeypatch.setattr(pipeline, "with_rims", with_one_beside)
    monkeypatch.setattr(pipeline, "missing_outlines", of_lines)
    picture = SampledPicture(grey=disc(480, 320, 60), across_mm=0.25, down_mm=0.25)
    with ThreadPoolExecutor(2) as pool:
        found = find_points(picture, Outline(), Artefacts(noise=0.0, step=0.0), pool)
    eye = Polylines.of([np.array([[5.0, 5.0], [9.0, 5.0], [9.0, 9.0], [5.0, 5.0]])])
    rounds = FeatureLines(lines=eye, weight=np.array([FORM], np.uint8))
    strokes = strokes_of(replace(found, rounds=rounds), Outline())
    assert asked == [(1, 0)]
    assert len(strokes) == 1


def test_strong_long_lines_are_heavier_than_faint_short_ones() -> None:
    """Where nothing was read, contrast and length tell."""
    grey = disc(radius=200).astype(np.int16)
    grey[100:140, 100:140] -= 25
    grey[300:330, 440:480] += 25
    half = np.ascontiguousarray(grey[::2, ::2].astype(np.uint8))
    sampled_picture = SampledPicture(grey=half, across_mm=0.25, down_mm=0.25)
    with ThreadPoolExecutor(2) as pool:
        strokes = strokes_on(sampled_picture, Outline(), Artefacts(noise=0.0, step=0.0), pool)
    longest_one = int(strokes.length_mm.argmax())
    assert strokes.weight[longest_one] == FORM
    assert set(np.delete(strokes.weight, longest_one).tolist()) <= {INNER, 1}
    assert len(strokes) == 3


@functools.cache
def drawing_of_many() -> Drawing:
    return drawing(1, 200, 150)


@pytest.mark.parametrize(("noise", "quality"), [(0.0, None), (16.0, None), (4.0, 30)])
def test_known_lines_are_found_better_than_by_canny(
    noise: float, quality: int | None, tmp_path: Path
) -> None:
    """At equal stroke count; OpenCV's and scikit-image's, as people use them."""
    known = drawing_of_many()
    grey = spoilt(known.grey, noise, quality)
    strokes = found(grey, spec_of(200, 150), tmp_path)
    mine = rated(known, sampled(strokes))
    assert mine.precision > 0.98
    assert mine.recall > 0.92
    for method in OTHERS.values():
        assert mine.both > rated(known, longest(method(grey), len(strokes)).places).both


def test_of_too_many_points_the_plainest_stay(monkeypatch: pytest.MonkeyPatch) -> None:
    """A wall of fine stripes has points by the million, and each takes memory on the way."""
    across = np.arange(1100)
    strength = np.where(across < 550, 90.0, 30.0)
    row = np.rint(127 + strength * np.sin(across * 2 * np.pi / 8)).astype(np.uint8)
    grey = np.tile(row, (700, 1))
    sampled_picture = SampledPicture(grey=grey, across_mm=0.25, down_mm=0.25)
    outline, artefacts = Outline(detail=1.0, shortest_mm=0.0), Artefacts(noise=1.0, step=0.0)
    with ThreadPoolExecutor(2) as pool:
        every = find_points(sampled_picture, outline, artefacts, pool).points
        monkeypatch.setattr(pipeline, "MOST_POINTS", 20_000)
        fewer = find_points(sampled_picture, outline, artefacts, pool).points
    assert len(fewer) == 20_000 < len(every)
    assert (fewer.x < 560).all()
