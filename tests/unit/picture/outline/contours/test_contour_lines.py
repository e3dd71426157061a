"""Lines from the reading: where they lie, what places them, and which of them are drawn."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr

from tests.unit.picture.outline.lines import Bytes, Floats, sampled
from worker.picture.outline.contours.contour_ridges import ridge_lines
from worker.picture.outline.contours.layered_ridges import layered_ridges
from worker.picture.outline.contours.placed_reading import PlacedReading, placed_reading
from worker.picture.outline.detected_points import Artefacts
from worker.picture.outline.pipeline import find_points, strokes_of
from worker.picture.outline.points.sampled_picture import PixelGrid, SampledPicture
from worker.spec.plan import Plan, Size
from worker.spec.reading import Face, Maps, Reading
from worker.spec.spec import Area, Outline, Shadows
from worker.spec.strokes import DASHED, FORM, INNER, PLAIN, Strokes

#: A map of 200 x 150 pixels of 0.75 mm lies over 150 x 112.5 mm of picture, on a grid of 0.25 mm.
MAP = (150, 200)
FINER = 3
GRID = PixelGrid(across_mm=0.25, down_mm=0.25)
MAP_MM = 0.75
NOTHING = np.zeros(MAP, np.uint8)
SURE = np.full(MAP, 255, np.uint8)


def band(distance: Floats, width: float = 1.4) -> Bytes:
    """How likely a line passes, by the distance from it in pixels of the map."""
    return np.rint(255 * np.exp(-((distance / width) ** 2) / 2)).astype(np.uint8)


def places_of_map() -> tuple[Floats, Floats]:
    """Across and down, at the middle of each pixel of the map, in mm of the picture."""
    down, across = np.mgrid[: MAP[0], : MAP[1]]
    return (across + 0.5) * MAP_MM, (down + 0.5) * MAP_MM


def places_of_grid() -> tuple[Floats, Floats]:
    down, across = np.mgrid[: MAP[0] * FINER, : MAP[1] * FINER]
    return (across + 0.5) * 0.25, (down + 0.5) * 0.25


def reading(contour: Bytes, **others: object) -> Reading:
    """A sure reading of inner contours alone, if nothing else is said."""
    maps: dict[str, object] = {"outer": NOTHING, "mark": NOTHING, "shadow": NOTHING, "sure": SURE}
    return Reading(contour=contour, **{**maps, **others})  # type: ignore[arg-type]


def placed(read: Reading) -> PlacedReading:
    """Laid under the whole picture, as it is."""
    half = (1 / FINER - 1) / 2
    matrix = np.array(((1 / FINER, 0.0, half), (0.0, 1 / FINER, half)))
    share = np.add(matrix, ((0, 0, 0.5), (0, 0, 0.5))) / ((MAP[1],), (MAP[0],))
    return PlacedReading(reading=read, to_map=matrix, to_share=share)


def drawn(grey: Bytes, read: Reading, outline: Outline | None = None, **tiles: int) -> Strokes:
    """The strokes of a picture that was read so."""
    picture = SampledPicture(grey=grey, across_mm=0.25, down_mm=0.25)
    chosen, quiet = outline or Outline(), Artefacts(noise=0.0, step=0.0)
    with ThreadPoolExecutor(2) as pool:
        found = find_points(picture, chosen, quiet, pool, placed=placed(read), **tiles)
    return strokes_of(found, chosen)


def step(edge_mm: float, low: float = 80.0, high: float = 170.0) -> Bytes:
    """Dark on the left of an upright edge, light on its right."""
    across, _ = places_of_grid()
    return np.rint(np.where(across < edge_mm, low, high)).astype(np.uint8)


def flat() -> Bytes:
    return np.full((MAP[0] * FINER, MAP[1] * FINER), 128, np.uint8)


def test_a_ridge_is_found_to_a_part_of_a_pixel() -> None:
    down, across = np.mgrid[: MAP[0], : MAP[1]]
    slanted = (across - 100.3) * np.cos(0.4) + (down - 75.1) * np.sin(0.4)
    lines = ridge_lines(band(slanted, 2.0))
    assert len(lines.closed) == 1
    away = (lines.x - 100.3) * np.cos(0.4) + (lines.y - 75.1) * np.sin(0.4)
    # What is beyond the map's edge is not known.
    assert np.abs(away[(lines.y > 3) & (lines.y < 146)]).max() < 0.05


@pytest.mark.parametrize(("in_gap", "lines"), [(0, 2), (90, 1)])
def test_a_gap_in_which_nothing_is_seen_parts_two_lines(in_gap: int, lines: int) -> None:
    """Two strokes of lettering end face to face; one contour is fainter for a while."""
    y, x = np.mgrid[:60, :100]
    values = np.where((x < 46) | (x > 53), 255, in_gap) * (band(y - 30.0) / 255.0)
    assert len(ridge_lines(np.rint(values).astype(np.uint8)).closed) == lines


def test_a_ring_is_one_closed_line() -> None:
    down, across = np.mgrid[: MAP[0], : MAP[1]]
    lines = ridge_lines(band(np.hypot(across - 100, down - 75) - 40))
    assert lines.closed.tolist() == [True]
    assert np.abs(np.hypot(lines.x - 100, lines.y - 75) - 40).max() < 0.15


@pytest.mark.parametrize("mirror", [False, True])
@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 90.0])
def test_a_reading_lies_where_the_picture_is(turn_deg: float, *, mirror: bool) -> None:
    """Against the rule that content turns clockwise about the crop's middle, then is mirrored."""
    crop = Area(left=0.2, top=0.1, width=0.5, height=0.6)
    plan = object.__new__(Plan)
    for name, value in (("crop", crop), ("rotate_deg", turn_deg), ("picture", Size(100.0, 90.0))):
        object.__setattr__(plan, name, value)
    down, across = np.mgrid[: MAP[0], : MAP[1]]
    read = reading(across.astype(np.uint8), outer=down.astype(np.uint8))
    lies = placed_reading(read, plan, GRID, mirror=mirror)
    # A point of the picture 10 mm right and 20 mm below its middle.
    x, y = np.array([60.0 / 0.25 - 0.5], np.float32), np.array([65.0 / 0.25 - 0.5], np.float32)
    aside = -10.0 if mirror else 10.0
    turn = np.radians(turn_deg)
    map_px = 0.5 * MAP[1] / 100.0
    right = np.cos(turn) * aside * map_px + np.sin(turn) * 20.0 * map_px
    below = -np.sin(turn) * aside * map_px + np.cos(turn) * 20.0 * map_px
    assert lies.sampled("contour", x, y)[0] * 255 == pytest.approx(90 + right - 0.5, abs=0.01)
    assert lies.sampled("outer", x, y)[0] * 255 == pytest.approx(60 + below - 0.5, abs=0.01)
    whole = lies.layers[0]
    back = whole.to_grid(np.array([89.5 + right], np.float32), np.array([59.5 + below], np.float32))
    assert np.concatenate(back) == pytest.approx([x[0], y[0]], abs=0.01)
    assert whole.map_px == pytest.approx(1 / (0.25 * map_px))


def test_the_edge_places_the_line_and_not_the_ridge() -> None:
    """The map is off by two thirds of its pixel."""
    across, _ = places_of_map()
    strokes = drawn(step(75.0), reading(band((across - 75.5) / MAP_MM)))
    assert len(strokes) == 1
    assert np.abs(sampled(strokes)[:, 0] - 75.0).max() < 0.05
    assert strokes.length_mm[0] > 105


def test_a_contour_without_contrast_is_a_fair_line() -> None:
    across, down = places_of_map()
    noisy = band((across - 60 - 8 * np.sin(down / 20)) / MAP_MM).astype(np.float64)
    noisy += np.random.default_rng(1).normal(0, 8, MAP)
    strokes = drawn(flat(), reading(np.clip(noisy, 0, 255).astype(np.uint8)))
    places = sampled(strokes)
    assert len(strokes) == 1
    assert np.abs(places[:, 0] - 60 - 8 * np.sin(places[:, 1] / 20)).max() < 0.5


def test_an_edge_that_ends_goes_on_as_the_ridge() -> None:
    """A cheek: half of it stands out from its ground, half does not."""
    across, down = places_of_grid()
    fades = np.clip((80.0 - down) / 30.0, 0.0, 1.0)
    grey = np.rint(128 + np.where(across < 75, -40, 40) * fades).astype(np.uint8)
    strokes = drawn(grey, reading(band((places_of_map()[0] - 75.0) / MAP_MM)))
    assert len(strokes) == 1
    assert strokes.length_mm[0] > 105
    assert np.abs(sampled(strokes)[:, 0] - 75.0).max() < 0.2


def bar(width_mm: float) -> Bytes:
    """A dark upright bar, a little darker ground on its right."""
    across, _ = places_of_grid()
    grey = np.where(np.abs(across - 75) < width_mm / 2, 60.0, np.where(across < 75, 180.0, 160.0))
    return np.rint(grey).astype(np.uint8)


@pytest.mark.parametrize(("width_mm", "count"), [(0.5, 1), (1.0, 1), (3.0, 2)])
def test_a_thin_bar_is_one_line_along_its_middle_and_a_wide_one_two(
    width_mm: float, count: int
) -> None:
    strokes = drawn(bar(width_mm), reading(band((places_of_map()[0] - 75.0) / MAP_MM, 2.0)))
    assert len(strokes) == count
    away = np.abs(sampled(strokes)[:, 0] - 75.0)
    expected = 0.0 if count == 1 else width_mm / 2
    assert np.abs(away - expected).max() < 0.2


def scene() -> tuple[Bytes, Reading]:
    """A silhouette, an inner contour as strong, and texture stronger than both."""
    across, down = places_of_grid()
    grey = 128.0 + np.where(across < 30, -40, 0) + np.where(across > 75, 40, 0)
    clumps = gaussian_filter(np.random.default_rng(1).normal(0, 1, grey.shape), 3)
    grey += np.where((across > 95) & (down > 20), 60 * clumps / clumps.std(), 0)
    x, _ = places_of_map()
    contour = np.maximum(band((x - 30) / MAP_MM), (band((x - 75) / MAP_MM) * 0.8).astype(np.uint8))
    outer = np.where(x < 50, 255, 0).astype(np.uint8)
    return np.clip(np.rint(grey), 0, 255).astype(np.uint8), reading(contour, outer=outer)


def lengths(strokes: Strokes) -> tuple[float, float, float]:
    """Line near the silhouette, near the inner contour, and in the texture, in mm."""
    across = sampled(strokes)[:, 0]
    near = np.abs(across - 30) < 1, np.abs(across - 75) < 1, across > 90
    outer, inner, texture = (float(each.sum()) / 10 for each in near)
    return outer, inner, texture


def test_detail_runs_from_silhouettes_over_contours_to_texture() -> None:
    grey, read = scene()
    least, usual, most = (
        lengths(drawn(grey, read, Outline(detail=detail))) for detail in (0.0, 0.5, 1.0)
    )
    assert least[0] > 100
    assert least[1:] == (0, 0)
    assert min(usual[:2]) > 100
    assert usual[2] == 0
    assert min(most[:2]) > 100
    assert most[2] > 300


def test_where_the_reading_is_unsure_contrast_decides() -> None:
    grey, read = scene()
    unsure = replace(read, contour=NOTHING, sure=NOTHING)
    assert min(lengths(drawn(grey, unsure))[:2]) > 100


def test_noise_in_the_picture_hides_no_contour_that_is_likelier_than_noise() -> None:
    """Leaves and fur count as noise, and among them the reading is less than sure."""
    x, _ = places_of_map()
    seen = band((x - 75) / MAP_MM)
    picture = SampledPicture(grey=flat(), across_mm=0.25, down_mm=0.25)
    read = placed(reading(seen, outer=SURE, sure=(SURE // 4 * 3).astype(np.uint8)))
    with ThreadPoolExecutor(2) as pool:
        leaves = Artefacts(noise=6.0, step=0.0)
        found = find_points(picture, Outline(), leaves, pool, placed=read)
    assert strokes_of(found, Outline()).length_mm.sum() > 100


def test_weight_follows_form() -> None:
    x, _ = places_of_map()
    contour = band(np.minimum(np.minimum(np.abs(x - 30), np.abs(x - 75)), np.abs(x - 120)) / MAP_MM)
    outer = np.where(x < 50, 255, 0).astype(np.uint8)
    mark = np.where(x > 100, 255, 0).astype(np.uint8)
    strokes = drawn(flat(), reading(contour, outer=outer, mark=mark))
    order = np.argsort([strokes.curves_mm[first, 0, 0] for first in strokes.first[:-1]])
    assert strokes.weight[order].tolist() == [FORM, PLAIN, INNER]


def test_in_a_small_face_lines_may_be_shorter() -> None:
    """An eyelid of some millimetres, twice: in a face of 60 mm, and outside."""
    x, y = places_of_map()
    short = [np.hypot(x - at, np.maximum(np.abs(y - 50) - 2.0, 0)) for at in (40, 110)]
    contour = band(np.minimum(*short) / MAP_MM, 1.0)
    face = Area(left=20 / 150, top=20 / 112.5, width=60 / 150, height=70 / 112.5)
    read = reading(contour)
    bare = drawn(flat(), read, Outline(shortest_mm=8.0))
    faced = drawn(
        flat(), replace(read, faces=(Face(box=face, head=face, eyes=()),)), Outline(shortest_mm=8.0)
    )
    assert len(bare) == 0
    assert len(faced) == 1
    assert faced.curves_mm[0, 0, 0] == pytest.approx(40, abs=1)


@pytest.mark.parametrize(
    ("shadows", "weights"), [("none", []), ("light", [INNER]), ("dashed", [DASHED])]
)
def test_edges_of_shadows_are_drawn_as_chosen(shadows: Shadows, weights: list[int]) -> None:
    x, _ = places_of_map()
    strokes = drawn(
        flat(), reading(NOTHING, shadow=band((x - 75) / MAP_MM)), Outline(shadows=shadows)
    )
    assert strokes.weight.tolist() == weights
    assert strokes.length_mm.sum() == pytest.approx(110 * len(weights), abs=8)


def test_where_tiles_end_changes_nothing_of_contours() -> None:
    grey, read = scene()
    whole = drawn(grey, read, tile_px=1024)
    for tile_px in (52, 128):
        tiled = drawn(grey, read, tile_px=tile_px)
        for field in fields(Strokes):
            assert np.array_equal(getattr(tiled, field.name), getattr(whole, field.name))


#: A part of the map of 80 x 60 pixels that was read at 3 times its scale.
PART = Area(left=0.3, top=0.3, width=0.4, height=0.4)


def part(contour: Bytes, **others: Bytes) -> Maps:
    """Finer maps of a part."""
    nothing = np.zeros_like(contour)
    maps = {"outer": nothing, "mark": nothing, "shadow": nothing, "sure": nothing + 255}
    return Maps(area=PART, contour=contour, **{**maps, **others})


def places_of_part() -> tuple[Floats, Floats]:
    """Across and down, at the middle of each pixel of the finer maps, in mm of the picture."""
    down, across = np.mgrid[:180, :240]
    return 45 + (across + 0.5) * 0.25, 33.75 + (down + 0.5) * 0.25


def test_evidence_is_of_the_finer_maps_where_there_are_any() -> None:
    read = reading(NOTHING + 100, insets=(part(np.full((180, 240), 200, np.uint8)),))
    # In pixels of the grid: outside, on the border, half of the way in (a tenth of 240), inside.
    x = np.array([100.0, 179.5, 191.5, 203.5, 300.0, 419.5], np.float32)
    found = 255 * placed(read).sampled("contour", x, np.full(len(x), 225, np.float32))
    assert found == pytest.approx([100, 100, 150, 200, 200, 100], abs=0.1)


def test_of_maps_over_each_other_the_finest_count() -> None:
    coarse, fine = (part(np.full((180 * f, 240 * f), v, np.uint8)) for f, v in ((1, 80), (2, 160)))
    for insets in ((coarse, fine), (fine, coarse)):
        lies = placed(reading(NOTHING, insets=insets))
        x = np.array([300.0], np.float32)
        assert 255 * lies.sampled("contour", x, x * 0.75) == pytest.approx([160])
        assert lies.map_px(x, x * 0.75) == pytest.approx([0.5])
        assert lies.map_px(x * 0, x * 0) == pytest.approx([3])


@pytest.mark.parametrize("off_mm", [0.0, 0.75])
def test_a_contour_through_the_border_of_finer_maps_is_one_line(off_mm: float) -> None:
    """Also where the coarser map has it a pixel beside."""
    (across, down), (x, y) = places_of_map(), places_of_part()
    coarse = band((across - 60 - off_mm - down / 5) / MAP_MM)
    read = reading(coarse, insets=(part(band((x - 60 - y / 5) / 0.25)),))
    strokes = drawn(flat(), read)
    assert len(strokes) == 1
    assert strokes.length_mm[0] > 105
    places = sampled(strokes)
    away = np.abs(places[:, 0] - 60 - places[:, 1] / 5)
    assert away.max() < off_mm + 0.25
    inside = np.abs(places[:, 1] - 56.25) < 16
    assert away[inside].max() < 0.1


def test_a_ring_through_the_border_of_finer_maps_is_one_closed_line() -> None:
    (across, down), (x, y) = places_of_map(), places_of_part()
    coarse = band((np.hypot(across - 75, down - 70) - 20) / MAP_MM)
    read = reading(coarse, insets=(part(band((np.hypot(x - 75, y - 70) - 20) / 0.25)),))
    lines = layered_ridges(placed(read), "contour")
    assert lines.closed.tolist() == [True]
    # In pixels of the grid.
    assert np.abs(np.hypot(lines.x - 299.5, lines.y - 279.5) - 80).max() < 0.5


def test_finer_maps_part_what_is_one_line_in_the_coarser() -> None:
    """Two lids 3 mm apart, which the coarser map has as one band."""
    (across, down), (x, y) = places_of_map(), places_of_part()
    beyond = np.maximum(np.abs(across - 75) - 20, 0)
    coarse = band(np.hypot(beyond, down - 56) / MAP_MM, 2.0)
    lids = np.minimum(np.abs(y - 54.6), np.abs(y - 57.6)) + np.maximum(np.abs(x - 75) - 20, 0)
    assert len(drawn(flat(), reading(coarse))) == 1
    strokes = drawn(flat(), reading(coarse, insets=(part(band(lids / 0.25)),)))
    assert len(strokes) == 2
    away = np.abs(np.abs(sampled(strokes)[:, 1] - 56.1) - 1.5)
    assert away.max() < 0.2


def test_finer_maps_elsewhere_change_nothing() -> None:
    grey, read = scene()
    nowhere = replace(part(read.contour), area=Area(left=1.5, top=1.5, width=0.1, height=0.1))
    for field in fields(Strokes):
        one, two = (drawn(grey, each) for each in (read, replace(read, insets=(nowhere,))))
        assert np.array_equal(getattr(one, field.name), getattr(two, field.name))


@pytest.mark.parametrize("step_levels", [0.0, 12.0])
def test_a_border_too_soft_to_have_an_edge_has_the_contrast_of_its_form(step_levels: float) -> None:
    """As of fur or behind the focus; a mark as soft is none, nor is it told from compression."""
    across, _ = places_of_grid()
    soft = np.rint(80 + 90 * ndtr((across - 75) / 5.0)).astype(np.uint8)
    picture = SampledPicture(grey=soft, across_mm=0.25, down_mm=0.25)
    x, _ = places_of_map()
    likely = np.rint(band((x - 75) / MAP_MM) * 0.4).astype(np.uint8)
    drawn_mm = []
    for outer in (SURE, NOTHING):
        read = placed(reading(likely, outer=outer))
        with ThreadPoolExecutor(2) as pool:
            steps = Artefacts(noise=0.0, step=step_levels)
            found = find_points(picture, Outline(), steps, pool, placed=read)
        drawn_mm.append(float(strokes_of(found, Outline()).length_mm.sum()))
    assert drawn_mm[0] > 100
    assert drawn_mm[1] == 0
