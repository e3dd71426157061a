"""What stands leans as one vanishing point has it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from worker.picture.outline.points.edge_points import EDGE
from worker.picture.outline.ruling.segments import Segments
from worker.picture.outline.ruling.uprights import uprights_of

#: Where all that stands meets, far below a picture that is looked down into, in mm.
VANISHING = np.array((310.0, 2600.0))


def standing(places: np.ndarray, long_mm: float = 30.0, turned: float = 0.0) -> Segments:
    """Segments at places that run to the vanishing point, every second one upwards."""
    way = VANISHING - places
    way /= np.hypot(*way.T)[:, None]
    cosine, sine = np.cos(turned), np.sin(turned)
    way = way @ np.array(((cosine, sine), (-sine, cosine)))
    way[::2] *= -1
    return Segments(
        start=places - way * long_mm / 2,
        stop=places + way * long_mm / 2,
        levels=np.full(len(places), 40.0),
        kind=np.full(len(places), EDGE, np.uint8),
    )


def spread(many: int) -> np.ndarray:
    return np.random.default_rng(3).uniform((20.0, 20.0), (580.0, 380.0), (many, 2))


def joined(*parts: Segments) -> Segments:
    names = Segments.__dataclass_fields__
    return Segments(
        **{name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
    )


def test_the_lean_of_a_place_is_that_to_the_vanishing_point() -> None:
    """Lines that are parallel in space meet in one point (Caprile and Torre 1990)."""
    uprights = uprights_of(standing(spread(60)), 1.0)
    assert uprights is not None
    places = spread(200)
    way = VANISHING - places
    way /= np.hypot(*way.T)[:, None]
    found = uprights.ways(places)
    assert np.abs(found[:, 0] * way[:, 1] - found[:, 1] * way[:, 0]).max() < 0.01


def test_what_slants_among_them_changes_little() -> None:
    slanting = standing(spread(30), turned=0.2)
    uprights = uprights_of(joined(standing(spread(60)), slanting), 1.0)
    assert uprights is not None
    assert uprights.ways(np.array([VANISHING - (0, 2400)]))[0] == pytest.approx((0, 1), abs=0.02)


def test_what_fans_out_or_is_little_says_nothing() -> None:
    fans = [standing(spread(20), turned=turn) for turn in (-0.2, -0.1, 0.0, 0.1, 0.2)]
    assert uprights_of(joined(*fans), 1.0) is None
    assert uprights_of(standing(spread(20)), 1.0) is None
    assert uprights_of(standing(spread(60)), 1.0) is not None


@pytest.mark.parametrize("scale", [1 / 8, 4.0])
def test_a_smaller_or_larger_print_says_as_much(scale: float) -> None:
    """As large as 7.5 x 5 cm, and 2.4 x 1.6 m."""
    for many in (60, 20):
        whole = standing(spread(many))
        printed = replace(whole, start=whole.start * scale, stop=whole.stop * scale)
        assert (uprights_of(printed, scale) is None) == (many == 20)
