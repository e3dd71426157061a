"""What stands: trunks whose sides wobble, and what is between them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.picture.outline.fairing.standing import Standing, standing
from worker.picture.outline.polylines import Polylines

Floats = npt.NDArray[np.float64]
STEP_MM = 0.5
#: A wood: sides of trunks so far apart, and so high.
APART_MM, HIGH_MM, TRUNKS = 12.0, 160.0, 10


def side(x: float, wobble_mm: float, top: float = 20.0, high: float = HIGH_MM) -> Floats:
    """An upright line that leans a little, and wobbles as bark does."""
    y = np.arange(top, top + high, STEP_MM)
    return np.stack((x + 0.02 * (y - top) + wobble_mm * np.sin(y / 5 + x), y), axis=1)


def wood(wobble_mm: float) -> list[Floats]:
    return [side(20 + APART_MM * number, wobble_mm) for number in range(TRUNKS)]


def stood(lines: list[Floats]) -> Standing:
    return standing(Polylines.of(lines), np.ones(len(lines), np.bool_))


def of_line(found: Standing, number: int) -> Floats:
    first = found.lines.first
    return found.lines.places[first[number] : first[number + 1]]


def test_trunks_have_fair_sides() -> None:
    found = stood(wood(1.5))
    assert found.fair.all()
    for number in range(TRUNKS):
        off = of_line(found, number) - side(20 + APART_MM * number, 0.0)
        assert np.abs(off).mean() < 0.4
        # One bend at most is left of a dozen.
        turns = np.diff(of_line(found, number)[:, 0], 2)
        assert np.abs(turns).max() < 0.002


def test_no_place_is_moved_far() -> None:
    lines = wood(1.5)
    lines[4][150:170, 0] += 4.0
    moved = stood(lines).lines.places - Polylines.of(lines).places
    assert np.hypot(*moved.T).max() <= 2.5


def test_a_line_that_stands_alone_stays_as_it_is() -> None:
    alone = side(100.0, 1.5)
    found = stood([alone])
    assert not found.fair.any()
    assert np.array_equal(found.lines.places, alone)


def test_where_much_is_level_nothing_stands() -> None:
    lines = wood(1.5)
    level = [side(20 + APART_MM * number, 1.5)[:, ::-1] for number in range(14)]
    assert not stood(lines + level).fair.any()


def test_a_foot_stays_where_it_is() -> None:
    """What turns aside at the bottom of a trunk is no wobble."""
    lines = wood(1.5)
    end = lines[5][-1]
    foot = end + np.stack((np.arange(1, 40), np.full(39, 0.2)), axis=1)
    lines[5] = np.concatenate((lines[5], foot))
    found = of_line(stood(lines), 5)
    assert np.array_equal(found[-25:], foot[-25:])


def test_what_is_short_between_trunks_is_a_scrap() -> None:
    twig = np.stack((np.arange(60, 90, STEP_MM), np.full(60, 100.0)), axis=1)
    short = side(75.0, 0.0, top=90.0, high=20.0)
    beyond = twig + np.array([0.0, 400.0])
    found = stood([*wood(0.5), twig, short, beyond])
    assert found.between.tolist() == [False] * TRUNKS + [True, True, False]


def test_what_may_not_stand_stays() -> None:
    lines = Polylines.of(wood(1.5))
    found = standing(lines, np.zeros(TRUNKS, np.bool_))
    assert found.lines is lines
    assert not found.fair.any()
    assert not found.between.any()
