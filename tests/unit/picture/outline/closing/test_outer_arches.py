"""Arches on outer contours, in lines and readings made for it."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from tests.unit.picture.outline.closing.test_closed_forms import bordering
from tests.unit.picture.outline.contours.test_contour_lines import MAP, flat, places_of_map
from tests.unit.picture.outline.given_lines import points_along
from tests.unit.picture.outline.prominence.test_prominence import detected
from worker.picture.outline.closing.outer_arches import outer_arches
from worker.picture.outline.contours.evidence import Evidence
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.prominence.prominence import Prominence

#: A level contour in pixels of the grid, with the subject below; and what stands on it.
HEIGHT, LEFT, RIGHT = 240.0, 250, 350


def arches(
    *,
    above: bool = True,
    likely: float = 0.8,
    bounds: float = 0.8,
    high: float = 30.0,
    wide: int = RIGHT - LEFT,
    apart: int = 1,
    seam: int | None = None,
    elsewhere: float | None = None,
) -> list[bool]:
    """Which of the contour and an arch on it are arches.

    Args:
        above: Whether it stands on the contour, or hangs within.
        likely: How likely it is.
        bounds: How surely the contour bounds the subject.
        high: Of the arch, in pixels of the grid.
        wide: The same.
        apart: How far points of the contour are from each other, in these.
        seam: Where a contour begins that is closed around the subject, across; it is open if None.
        elsewhere: How surely that bounds the subject but below the arch; as there if None.
    """
    _, y = places_of_map()
    subject = np.where(y * 4 > HEIGHT, 245, 10).astype(np.uint8)[::4, ::4]
    found = detected(flat(), replace(bordering(np.zeros(MAP, np.uint8)), subject=subject))
    along = np.arange(100.0, 500.0, apart)
    line = np.stack((along, np.full(len(along), HEIGHT + 4)), axis=1)
    if seam is not None:
        down = np.arange(1, 150.0)
        right, left = (np.stack((0 * down + x, HEIGHT + 4 + down), axis=1) for x in (499, 100))
        line = np.concatenate((line, right, np.add(line[::-1], (0, 150)), left[::-1]))
        line = np.roll(line, 100 - seam, axis=0)
    angle = np.linspace(np.pi, 0, 122)[1:-1]
    way = -1 if above else 1
    middle = (RIGHT + LEFT) / 2
    arch = np.stack(
        (middle + wide / 2 * np.cos(angle), HEIGHT + way * (4 + high * np.sin(angle))), axis=1
    )
    places = np.concatenate((line, arch))
    points, _ = points_along(places, np.tile((0.0, 1.0), (len(places), 1)), [len(places)])
    own = np.arange(len(line), len(places))
    # It begins and ends at points of the contour.
    feet = [
        int(np.abs(line - (middle + side * wide / 2, HEIGHT + 4)).sum(axis=1).argmin())
        for side in (-1, 1)
    ]
    closed = seam is not None
    order = np.concatenate((np.arange(len(line)), [0] * closed, feet[:1], own, feet[1:]))
    chains = Chains(
        order=order.astype(np.int64),
        first=np.array([0, len(line) + closed, len(order)]),
        closed=np.array([closed, False]),
    )
    on_line = np.arange(len(places)) < len(line)
    below = (np.abs(places[:, 0] - middle) <= wide / 2) & (places[:, 1] < HEIGHT + 5)
    border = np.where(below, bounds, bounds if elsewhere is None else elsewhere)
    told = {"bounds": np.where(on_line, border, 0.1), "contour": np.where(on_line, 1.0, likely)}
    evidence, prominence = (
        kind(**{each.name: told.get(each.name, np.zeros(len(places))) for each in fields(kind)})
        for kind in (Evidence, Prominence)
    )
    return outer_arches(
        replace(found, points=points, evidence=evidence, prominence=prominence), chains
    ).tolist()


@pytest.mark.parametrize("apart", [1, 2])
def test_an_arch_before_the_ground_is_one(apart: int) -> None:
    """However far apart the contour's points are."""
    assert arches(apart=apart) == [False, True]


@pytest.mark.parametrize("other", [{"above": False}, {"likely": 0.97}, {"bounds": 0.2}], ids=str)
def test_what_is_within_or_sure_is_none(other: dict[str, float]) -> None:
    assert arches(**other) == [False, False]


@pytest.mark.parametrize(("high", "wide"), [(100.0, 100), (60.0, 280)])
def test_a_large_arch_is_none(high: float, wide: int) -> None:
    """Of 60 mm over 25 mm of contour; and of 86 mm, over 70 mm. Lower ones are arches."""
    assert arches(high=high, wide=wide) == [False, False]
    assert arches(high=30.0, wide=wide) == [False, True]


@pytest.mark.parametrize("seam", [150, LEFT, 300, RIGHT, 420])
def test_a_closed_contour_is_the_same_wherever_it_begins(seam: int) -> None:
    assert arches(seam=seam, elsewhere=0.1) == [False, True]
    assert arches(seam=seam, high=100.0) == [False, False]
