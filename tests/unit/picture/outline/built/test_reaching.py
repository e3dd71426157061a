"""Ruled lines go on to the line that they are heading for."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.picture.outline.built.given_built import built_lines, waving, way
from worker.picture.outline.built.reaching import reaching
from worker.picture.outline.polylines import Floats

EAVES, FLOOR = [(40.0, 60.0), (160.0, 70.0)], [(40.0, 140.0), (160.0, 140.0)]
COLUMN = [(100.0, 140.0), (100.0, 75.0)]


def likely(places: Floats) -> Floats:
    """A reading that sees a line everywhere."""
    return np.full(len(places), 0.5)


def unseen(places: Floats) -> Floats:
    """A reading that sees none."""
    return np.zeros(len(places))


def test_a_column_goes_on_to_the_eaves() -> None:
    lines = reaching(built_lines(EAVES, FLOOR, COLUMN), likely)
    column = lines.places[lines.owner == 2]
    assert column[0] == pytest.approx((100, 140))
    assert column[-1] == pytest.approx((100, 65), abs=1e-6)
    assert np.abs(column[:, 0] - 100).max() < 1e-9
    assert np.diff(column[:, 1]).max() < 0


def test_what_it_comes_to_stays_where_it_is() -> None:
    built = built_lines(EAVES, FLOOR, COLUMN)
    lines = reaching(built, likely)
    assert np.array_equal(lines.places[lines.owner < 2], built.lines.places[lines.owner < 2])


def test_it_may_be_a_frame() -> None:
    built = built_lines(FLOOR, COLUMN, others=[EAVES])
    assert reaching(built, likely).places[-1] == pytest.approx((100, 65), abs=1e-6)


@pytest.mark.parametrize("top", [85.0, 66.0])
def test_it_goes_on_no_further_than_its_reach(top: float) -> None:
    built = built_lines(EAVES, FLOOR, [(100.0, 140.0), (100.0, top)])
    # What is further is not reached, what is nearer than 2 mm is met already.
    assert reaching(built, likely).places[-1, 1] == top


def test_short_stretches_do_not_go_far() -> None:
    short = [(100.0, 88.0), (100.0, 75.0)]
    built = built_lines(EAVES, [(40.0, 88.0), (160.0, 88.0)], short)
    assert reaching(built, likely).places[-1] == pytest.approx((100, 75))


def test_what_the_reading_has_nothing_of_is_not_drawn() -> None:
    assert reaching(built_lines(EAVES, FLOOR, COLUMN), unseen).places[-1, 1] == 75


def test_only_what_is_ruled_goes_on() -> None:
    built = built_lines(EAVES, FLOOR, COLUMN, bent=[2])
    assert np.array_equal(reaching(built, likely).places, built.lines.places)


def test_what_comes_after_a_corner_alone_is_drawn_out() -> None:
    hook = way([(60.0, 140.0), (60.0, 100.0), (100.0, 100.0), (100.0, 76.0)])
    lines = reaching(built_lines(EAVES, FLOOR, hook), likely)
    moved = lines.places[lines.owner == 2] - hook
    assert moved[-1] == pytest.approx((0, -11), abs=0.01)
    assert np.abs(moved[: len(hook) - 50]).max() == 0


def test_lines_that_run_along_are_not_met() -> None:
    beside = [(101.0, 74.0), (99.0, 62.0)]
    built = built_lines(FLOOR, COLUMN, [beside[0], beside[1]], waving((20.0, 20.0), 150.0))
    assert reaching(built, likely).places[built.lines.first[2] - 1, 1] == 75


def test_the_edge_of_a_mass_goes_on_though_it_is_not_ruled() -> None:
    tree, hill = [(120.0, 20.0), (120.0, 190.0)], waving((20.0, 100.0), 84.0, 2.0)
    for bounding, right in ((0.0, hill[-1, 0]), (1.0, 120.0)):
        built = built_lines(tree, hill, bent=[1], bounding=bounding)
        assert reaching(built, likely).places[-1, 0] == pytest.approx(right, abs=0.2)


def test_what_wriggles_at_its_end_stays() -> None:
    tree = [(120.0, 20.0), (120.0, 190.0)]
    hook = way([(60.0, 100.0), (110.0, 100.0), (110.0, 102.0), (108.0, 102.0), (114.0, 101.0)])
    built = built_lines(tree, hook[:-11], bent=[1], bounding=1.0)
    mine = built.lines.owner == 1
    assert np.array_equal(reaching(built, likely).places[mine], built.lines.places[mine])


@pytest.mark.parametrize(("short_mm", "goes_on"), [(10.0, True), (30.0, True), (40.0, False)])
def test_the_edge_of_a_mass_goes_on_to_the_edge_of_the_picture(
    short_mm: float,
    goes_on: bool,  # noqa: FBT001 - one of the cases.
) -> None:
    hill = waving((20.0, 100.0), 180.0 - short_mm, 1.0)
    wall = [(20.0, 20.0), (20.0, 190.0)]
    built = built_lines(wall, hill, bent=[1], bounding=1.0)
    assert (reaching(built, likely).places[-1, 0] > 199.0) == goes_on


def test_what_is_ruled_goes_on_to_the_edge_only_nearby() -> None:
    for short_mm, goes_on in ((10.0, True), (30.0, False)):
        eaves = [(20.0, 60.0), (200.0 - short_mm, 60.0)]
        built = built_lines([(20.0, 20.0), (20.0, 190.0)], eaves)
        assert (reaching(built, likely).places[-1, 0] > 199.0) == goes_on
        assert reaching(built, unseen).places[-1, 0] == 200.0 - short_mm
