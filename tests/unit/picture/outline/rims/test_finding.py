"""Ellipses are found at any size and soon, and patterns of them are none."""

from __future__ import annotations

import numpy as np
import pytest

from worker.picture.outline.polylines import Flags, Floats, Polylines, courses
from worker.picture.outline.rims import finding
from worker.picture.outline.rims.ellipses import Ellipses
from worker.picture.outline.rims.finding import Rim, rims_of


def ring(diameter_mm: float, share: float = 1.0, x: float = 0.0, y: float = 0.0) -> np.ndarray:
    radius = diameter_mm / 2
    t = np.arange(0.3, 0.3 + 2 * np.pi * share, 0.35 / radius)
    return np.array((x, y)) + radius * np.stack((np.cos(t), np.sin(t)), axis=1)


def found(*ways: np.ndarray) -> list[Rim]:
    lines = Polylines(
        places=np.concatenate(ways),
        first=np.cumsum([0, *map(len, ways)]),
        closed=np.zeros(len(ways), np.bool_),
    )
    return rims_of(lines, courses(lines, 3.0), np.zeros(len(lines.places), np.bool_))


def pattern(many: int, diameter_mm: float, share: float = 1.0) -> list[np.ndarray]:
    apart = 1.1 * diameter_mm
    return [ring(diameter_mm, share, apart * (at % 40), apart * (at // 40)) for at in range(many)]


@pytest.mark.parametrize("diameter_mm", [20.0, 40.0, 160.0])
def test_rims_of_any_size_need_about_as_much_of_a_circle(diameter_mm: float) -> None:
    shares = np.arange(0.2, 1.0, 0.02)
    least = next((share for share in shares if found(ring(diameter_mm, share))), 1.0)
    assert 0.3 < least < 0.5
    (whole,) = found(ring(diameter_mm))
    assert 2 * whole.ellipse.axes_mm == pytest.approx(diameter_mm, abs=0.01)


def test_a_pattern_is_no_rims_and_a_plate_on_it_is_one() -> None:
    rings = pattern(100, 28.0)
    assert not found(*rings)
    (plate,) = found(*rings, ring(240.0, x=600.0, y=400.0))
    assert plate.lines.tolist() == [100]


def test_as_many_rims_as_a_table_has_are_found() -> None:
    assert len(found(*pattern(50, 28.0))) == 50


@pytest.mark.parametrize(("diameter_mm", "share"), [(28.0, 1.0), (76.0, 0.5)])
def test_work_grows_with_the_lines_and_not_with_their_square(
    diameter_mm: float, share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of each ellipse only what is near is looked at."""
    looked, once = list[int](), finding.on_ellipse

    def counted(ellipse: Ellipses, places: Floats, course: Floats) -> Flags:
        looked.append(len(places))
        return once(ellipse, places, course)

    monkeypatch.setattr(finding, "on_ellipse", counted)
    ways = pattern(400, diameter_mm, share)
    found(*ways)
    assert looked
    assert sum(looked) < 2 * sum(map(len, ways))
