"""Round forms: where they are exactly, and that there are none in textures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from tests.unit.picture.outline.contours.round_forms.painted_eyes import (
    DARK,
    IRIS,
    LIGHT,
    PITCH_MM,
    SHAPE,
    almond,
    bird,
    blobs,
    bricks,
    disc,
    filled,
    found,
    ground,
    in_mm,
    off_disc,
)
from tests.unit.picture.outline.contours.test_contour_lines import (
    NOTHING,
    Floats,
    places_of_grid,
    reading,
)
from worker.spec.reading import Face
from worker.spec.spec import Area

#: Pictures have grain: its standard deviation in levels.
_GRAIN = 3.0
_NEAR_MM, _CORNER_MM = 0.3, 3.0


def grained(grey: Floats, seed: int = 1) -> Floats:
    grain = np.random.default_rng(seed).normal(0, _GRAIN, SHAPE)
    return np.asarray(gaussian_filter(grey, 1.0) + grain, np.float32)


def cat(middle: tuple[float, float]) -> Floats:
    """An almond with an iris that its upper lid cuts, and a slit in it."""
    grey, opening = ground(), almond(middle, 17.0, 13.0)
    grey = filled(grey, opening, DARK)
    at = (middle[0], middle[1] - 2.5)
    grey = filled(grey, np.minimum(disc(at, 11.0), opening - 1.2), IRIS)
    return filled(grey, almond_slit(at), DARK)


def almond_slit(middle: tuple[float, float]) -> Floats:
    """A slit 6 mm wide and 11 mm high: a quarter turn of an almond."""
    radius = (5.5**2 + 3.0**2) / (2 * 3.0)
    right, left = ((middle[0] + sign * (radius - 3.0), middle[1]) for sign in (1, -1))
    return np.minimum(disc(right, radius), disc(left, radius))


@pytest.mark.parametrize("radius", [5.0, 8.0, 14.0])
@pytest.mark.parametrize("middle", [(50.0, 40.0), (75.3, 61.7)])
def test_a_black_eye_is_found_where_it_is(middle: tuple[float, float], radius: float) -> None:
    (form,) = found(grained(bird(middle, radius))).forms
    assert off_disc(form.outer.drawn(), middle, radius).max() < _NEAR_MM
    assert form.inner.light is not None
    light = (middle[0] + radius / 4, middle[1] - radius / 3)
    assert off_disc(form.inner.light.drawn(), light, radius / 4).max() < _NEAR_MM


def test_a_light_ring_around_an_eye_is_found_where_it_is() -> None:
    middle = (70.0, 50.0)
    grey = filled(ground(), disc(middle, 12.0), 235.0)
    grey = np.where(disc(middle, 9.0) > 0, bird(middle, 7.5), grey)
    grey = filled(grey, np.minimum(disc(middle, 11), -disc(middle, 7.5)), 235.0)
    (form,) = found(grained(grey)).forms
    assert form.rim is not None
    assert off_disc(form.rim.drawn(), middle, 12.0).max() < _NEAR_MM
    assert off_disc(form.outer.drawn(), middle, 7.5).max() < _NEAR_MM


@pytest.mark.parametrize("middle", [(60.0, 50.0), (80.4, 58.3)])
def test_an_iris_with_a_slit_is_found_between_lids(middle: tuple[float, float]) -> None:
    (form,) = found(grained(cat(middle))).forms
    opening, lids = almond(middle, 17.0, 13.0), form.outer.drawn()
    # Corners are rounded.
    between = np.abs(in_mm(lids)[:, 0] - middle[0]) < 17.0 - _CORNER_MM
    assert between.mean() > 0.7
    assert np.abs(at_places(opening, lids))[between].max() < _NEAR_MM + PITCH_MM / 2
    assert form.inner.iris is not None
    assert form.inner.pupil is not None
    iris, at = form.inner.iris.drawn(), (middle[0], middle[1] - 2.5)
    below = in_mm(iris)[:, 1] > middle[1]
    assert off_disc(iris, at, 11.0)[below].max() < _NEAR_MM
    slit = np.abs(at_places(almond_slit(at), form.inner.pupil.drawn()))
    assert np.quantile(slit, 0.8) < _NEAR_MM


def test_a_pupil_is_whole_where_a_window_is_mirrored_on_it() -> None:
    """A grey bar across it, with the rest of it dark beyond."""
    middle = (60.0, 50.0)
    grey, opening = ground(), almond(middle, 17.0, 13.0)
    grey = filled(grey, opening, DARK)
    grey = filled(grey, disc(middle, 11.0), IRIS)
    pupil = disc(middle, 5.0)
    grey = filled(grey, pupil, DARK)
    x, y = places_of_grid()
    bar = np.minimum(1.0 - np.abs(y - middle[1] + 2.5), 5.0 - np.abs(x - middle[0]))
    grey = filled(grey, np.asarray(np.minimum(bar, pupil)), (DARK + IRIS) / 2 + 15)
    (form,) = found(grained(grey)).forms
    assert form.inner.pupil is not None
    # The bar's lower edge is 3.5 mm inside.
    assert off_disc(form.inner.pupil.drawn(), middle, 5.0).max() < 1.5


def at_places(inside: Floats, places: np.ndarray) -> np.ndarray:
    """Values of the grid at the nearest pixel of places."""
    column, row = np.rint(places).astype(int).T
    return np.asarray(inside[row, column])


def test_a_disc_that_a_lid_cuts_is_found_where_it_is() -> None:
    middle, lid = (75.0, 56.0), (75.0, 78.0)
    inside = np.minimum(disc(middle, 9.0), disc(lid, 28.0))
    grey = filled(filled(ground(), inside, DARK), disc((77.0, 55.0), 2.0), LIGHT)
    (form,) = found(grained(grey)).forms
    lids = form.outer.drawn()
    corner = np.abs(disc(middle, 9.0)) + np.abs(disc(lid, 28.0)) < _CORNER_MM
    off = np.abs(at_places(inside, lids))[~at_places(corner, lids)]
    assert off.max() < _NEAR_MM + PITCH_MM / 2


def test_a_disc_with_other_things_in_it_is_none() -> None:
    grey = filled(ground(), disc((75.0, 56.0), 10.0), DARK)
    assert not found(grained(grey)).forms
    for hour in range(6):
        way = (np.cos(hour), np.sin(hour))
        grey = filled(grey, disc((75 + 6 * way[0], 56 + 6 * way[1]), 1.2), LIGHT)
    assert not found(grained(grey)).forms


@pytest.mark.parametrize("seed", range(6))
def test_leaves_have_none(seed: int) -> None:
    assert not found(grained(blobs(500, seed))).forms


def test_bricks_have_none() -> None:
    assert not found(grained(bricks())).forms


def test_what_is_one_of_many_is_none() -> None:
    grey = ground()
    for row in range(5):
        for column in range(7):
            middle = (12.0 + 21 * column, 12.0 + 21 * row)
            grey = np.where(disc(middle, 9.0) > 0, bird(middle, 6.0), grey)
    assert not found(grained(grey)).forms


@pytest.mark.parametrize("sigma_mm", [3.0, 5.0])
def test_a_disc_out_of_focus_is_none(sigma_mm: float) -> None:
    blurred = gaussian_filter(bird((75.0, 56.0), 10.0), sigma_mm / PITCH_MM)
    assert not found(grained(blurred)).forms


def test_heads_have_eyes_of_their_own() -> None:
    box = Area(left=0.3, top=0.3, width=0.4, height=0.4)
    head = Area(left=0.1, top=0.1, width=0.8, height=0.8)
    face = Face(box=box, head=head, eyes=(box, box))
    grey = grained(bird((75.0, 56.0), 8.0))
    assert len(found(grey).forms) == 1
    assert not found(grey, replace(reading(NOTHING), faces=(face,))).forms


def line(places: np.ndarray) -> list[np.ndarray]:
    """Places in mm as those of the grid, with the way across."""
    x, y = (places / PITCH_MM - 0.5).T.astype(np.float32)
    way = np.gradient(places, axis=0)
    way /= np.hypot(*way.T)[:, None]
    return [x, y, *np.stack((-way[:, 1], way[:, 0])).astype(np.float32)]


def test_what_runs_through_an_eye_ends_at_it() -> None:
    middle = (75.0, 56.0)
    forms = found(grained(bird(middle, 8.0)))
    across = np.stack((np.linspace(55, 95, 161), np.full(161, 57.0)), axis=1)
    off = np.hypot(*(across - middle).T)
    covered = forms.cover(*line(across))
    assert covered[off < 7.5].all()
    assert not covered[off > 8.5].any()


def test_what_runs_along_an_eye_is_its_other_edge() -> None:
    middle, turn = np.array((75.0, 56.0)), np.linspace(0, 2 * np.pi, 200)
    forms = found(grained(bird((75.0, 56.0), 8.0)))
    for radius, share in ((9.0, 1.0), (12.0, 0.0)):
        ring = middle + radius * np.stack((np.cos(turn), np.sin(turn)), axis=1)
        assert forms.cover(*line(ring)).mean() == share


@pytest.mark.parametrize("middle", [(6.0, 50.0), (75.0, 107.0), (145.0, 4.0)])
def test_an_eye_that_the_picture_cuts_is_none(middle: tuple[float, float]) -> None:
    assert not found(grained(bird(middle, 8.0))).forms
