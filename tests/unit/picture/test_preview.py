"""Previews: what is printed, in small; lines against Pillow's own curves and exact places."""

from __future__ import annotations

import functools
import io
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import skimage.data
from PIL import Image
from scipy.ndimage import gaussian_filter

from tests.unit.reference.samples import planned, saved, taken
from worker.picture.enlarge import faint_picture
from worker.picture.preview import MAX_HEIGHT_PX, draw_lines, flattened, preview
from worker.picture.tones import posterisation, posterise
from worker.reference.master import Master
from worker.spec.spec import Print, Spec, Support, Tone, ToneStyle, Values
from worker.spec.strokes import FORM, INNER, PLAIN, Strokes

SIZE_PX = (900, 600)
Floats = npt.NDArray[np.float64]


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("reference")
    photo = Image.fromarray(skimage.data.astronaut()[20:361]).resize(SIZE_PX)
    taken(saved(photo, "PNG", compress_level=1), folder)
    return folder / "master.zip"


def spec_of(style: ToneStyle, **changes: object) -> Spec:
    return Spec(
        support=Support(width_mm=300, height_mm=200),
        tone=Tone(style=style, **changes),  # type: ignore[arg-type]
    )


@functools.cache
def shown(master: Path, spec: Spec, width_px: int = 600) -> Image.Image:
    plan = planned(spec, *SIZE_PX)
    picture = Image.open(io.BytesIO(preview(master, spec, plan, width_px).png), formats=["PNG"])
    picture.load()
    return picture


def strokes_of(*curves: list[tuple[float, float]], weight: int = PLAIN) -> Strokes:
    """Each a stroke of its own."""
    number = len(curves)
    return Strokes(
        curves_mm=np.array(curves, np.float32).reshape(number, 4, 2),
        first=np.arange(number + 1, dtype=np.int32),
        weight=np.full(number, weight, np.uint8),
        length_mm=np.ones(number, np.float32),
    )


@pytest.mark.parametrize(("style", "mode"), [("grey", "L"), ("colour", "RGB")])
def test_tones_are_those_of_the_print(master: Path, style: ToneStyle, mode: str) -> None:
    spec = spec_of(style, lighten=0.3)
    picture = shown(master, spec)
    with Master.open(master) as opened:
        wanted = faint_picture(opened, spec, planned(spec, *SIZE_PX), 600)
    assert picture.mode == mode
    assert np.array_equal(np.asarray(picture), np.asarray(wanted))


def test_tones_much_smaller_than_their_cells_are_their_means(
    master: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So no field of borders is made of all cells at once, which a mural has millions of."""
    monkeypatch.setattr(posterisation, "MAX_CELLS", posterisation.MAX_CELLS // 4)
    spec = Spec(support=Support(width_mm=3000, height_mm=2000), tone=Tone(style="values"))
    plan = planned(spec, *SIZE_PX)
    with Master.open(master) as opened:
        posterised = posterise(opened, spec, plan)
    cells = np.array(posterised.tones, np.uint8)[posterised.cells]
    picture = np.asarray(shown(master, spec, 120), np.float64)
    wanted = boxes(boxes(cells.astype(np.float64), 80).T, 120).T
    # Here a cell that two pixels share is counted to the nearer one.
    assert np.abs(picture - wanted).mean() < 0.5


def boxes(rows: Floats, count: int) -> Floats:
    """Means of so many bands of equal height, which may begin and end within rows."""
    total = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0)])
    places = np.linspace(0, len(rows), count + 1)
    low = np.minimum(places.astype(np.intp), len(rows) - 1)
    at = total[low] + (total[low + 1] - total[low]) * (places - low)[:, np.newaxis]
    means: Floats = np.diff(at, axis=0) * count / len(rows)
    return means


def test_values_tell_where_they_part(master: Path) -> None:
    spec = spec_of("values", values=Values(count=4))
    plan = planned(spec, *SIZE_PX)
    with Master.open(master) as opened:
        posterised = posterise(opened, spec, plan)
    told = preview(master, spec, plan, 600)
    assert told.thresholds == posterised.thresholds
    greys = np.asarray(Image.open(io.BytesIO(told.png), formats=["PNG"]))
    flat = np.isin(greys, posterised.tones)
    # All but the softened borders is one of the tones.
    assert flat.mean() > 0.8


def test_lines_lie_on_nothing_or_on_the_lightened_grey(master: Path) -> None:
    outline = np.asarray(shown(master, spec_of("outline")))
    mixed = np.asarray(shown(master, spec_of("mixed", lighten=0.6)))
    spec = spec_of("mixed", lighten=0.6)
    with Master.open(master) as opened:
        grey = np.asarray(faint_picture(opened, spec, planned(spec, *SIZE_PX), 600))
    assert (outline == 255).mean() > 0.7
    assert outline.min() < 60
    assert np.array_equal(mixed, np.minimum(outline, grey))


def test_mirrored_lines_are_mirrored(master: Path) -> None:
    """Pillow draws strokes and their exact mirrors a fine pixel apart: a third of all ink.

    So both are compared as they look through a blur of a pixel, in which half of all ink would
    differ if they were one pixel apart.
    """
    plain = shown(master, spec_of("outline"))
    spec = spec_of("outline")
    mirrored = Spec(support=spec.support, tone=spec.tone, print=Print(mirror=True))
    turned = np.asarray(shown(master, mirrored))[:, ::-1]
    inks = [gaussian_filter(255.0 - np.asarray(each), 1.0) for each in (plain, turned)]
    assert np.abs(inks[0] - inks[1]).mean() < 0.2 * inks[0].mean()


def test_points_lie_on_their_curves() -> None:
    rng = np.random.default_rng(3)
    strokes = Strokes(
        curves_mm=rng.random((7, 4, 2), np.float32) * 50,
        first=np.array([0, 2, 3, 7], np.int32),
        weight=np.zeros(3, np.uint8),
        length_mm=np.ones(3, np.float32),
    )
    points, first = flattened(strokes, 2.0)
    assert first[0] == 0
    assert first[-1] == len(points)
    for stroke in range(3):
        own = points[first[stroke] : first[stroke + 1]]
        curves = strokes.curves_mm[strokes.first[stroke] : strokes.first[stroke + 1]]
        assert own[0] == pytest.approx(curves[0, 0] * 2)
        assert own[-1] == pytest.approx(curves[-1, 3] * 2)
        # By De Casteljau's construction, which needs no polynomials.
        t = np.linspace(0, 1, 4001)[:, np.newaxis, np.newaxis]
        dense = []
        for curve in curves.astype(float) * 2:
            level = np.repeat(curve[np.newaxis], len(t), axis=0)
            while level.shape[1] > 1:
                level = level[:, :-1] * (1 - t) + level[:, 1:] * t
            dense.append(level[:, 0])
        far = np.linalg.norm(own[:, np.newaxis] - np.concatenate(dense)[np.newaxis], axis=2)
        assert far.min(axis=1).max() < 0.05


def test_a_line_is_where_it_is_and_as_wide_as_it_is() -> None:
    straight = [(10.0, 20.0), (20.0, 20.0), (30.0, 20.0), (90.0, 20.0)]
    picture = draw_lines(strokes_of(straight), 1.0, 100.0, (1000, 400))
    ink = 1 - np.asarray(picture, float) / 255
    column = ink[:, 500]
    assert column.sum() == pytest.approx(10.0, abs=0.4)
    middle = (column * (np.arange(400) + 0.5)).sum() / column.sum()
    assert middle == pytest.approx(200.0, abs=0.5)
    assert ink[:, :90].sum() == 0
    assert ink[200, 110] == 1


def test_fine_lines_stay_seen_and_weights_apart() -> None:
    straight = [(10.0, 20.0), (20.0, 20.0), (30.0, 20.0), (900.0, 20.0)]
    ink = {}
    for weight in (INNER, PLAIN, FORM):
        picture = draw_lines(strokes_of(straight, weight=weight), 0.35, 1000.0, (500, 50))
        ink[weight] = (255 - np.asarray(picture, float))[:, 200].sum() / 255
    assert ink[INNER] < ink[PLAIN] < ink[FORM]
    assert ink[PLAIN] == pytest.approx(1.0, abs=0.2)


def test_no_lines_are_blank_paper() -> None:
    none = Strokes(
        curves_mm=np.empty((0, 4, 2), np.float32),
        first=np.zeros(1, np.int32),
        weight=np.empty(0, np.uint8),
        length_mm=np.empty(0, np.float32),
    )
    assert np.all(np.asarray(draw_lines(none, 0.35, 300.0, (300, 200))) == 255)


def test_a_tall_picture_is_shown_narrower(master: Path) -> None:
    spec = Spec(support=Support(width_mm=20, height_mm=400))
    picture = shown(master, spec, 1600)
    assert picture.size == (MAX_HEIGHT_PX // 20, MAX_HEIGHT_PX)
