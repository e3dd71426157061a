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
    *, above: bool = True, likely: float = 0.8, bounds: float = 0.8, high: float = 30.0
) -> list[bool]:
    """Which of the contour and an arch on it are arches."""
    _, y = places_of_map()
    subject = np.where(y * 4 > HEIGHT, 245, 10).astype(np.uint8)[::4, ::4]
    found = detected(flat(), replace(bordering(np.zeros(MAP, np.uint8)), subject=subject))
    along = np.arange(100.0, 500.0)
    line = np.stack((along, np.full(len(along), HEIGHT + 4)), axis=1)
    angle = np.linspace(np.pi, 0, 122)[1:-1]
    way = -1 if above else 1
    half = (RIGHT - LEFT) / 2
    arch = np.stack(
        (LEFT + half + half * np.cos(angle), HEIGHT + way * (4 + high * np.sin(angle))), axis=1
    )
    places = np.concatenate((line, arch))
    points, _ = points_along(places, np.tile((0.0, 1.0), (len(places), 1)), [len(places)])
    own = np.arange(len(line), len(places))
    # It begins and ends at points of the contour.
    order = np.concatenate((np.arange(len(line)), [LEFT - 100], own, [RIGHT - 100]))
    chains = Chains(
        order=order,
        first=np.array([0, len(line), len(order)]),
        closed=np.zeros(2, bool),
    )
    on_line = np.arange(len(places)) < len(line)
    told = {"bounds": np.where(on_line, bounds, 0.1), "contour": np.where(on_line, 1.0, likely)}
    evidence, prominence = (
        kind(**{each.name: told.get(each.name, np.zeros(len(places))) for each in fields(kind)})
        for kind in (Evidence, Prominence)
    )
    return outer_arches(
        replace(found, points=points, evidence=evidence, prominence=prominence), chains
    ).tolist()


def test_an_arch_before_the_ground_is_one() -> None:
    assert arches() == [False, True]


@pytest.mark.parametrize(
    "other", [{"above": False}, {"likely": 0.97}, {"bounds": 0.2}, {"high": 140.0}], ids=str
)
def test_what_is_within_sure_or_large_is_none(other: dict[str, float]) -> None:
    assert arches(**other) == [False, False]
