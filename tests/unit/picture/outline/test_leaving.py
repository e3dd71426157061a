"""Lines that leave a figure, in pictures and readings made for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.picture.outline.contours.features.painted_faces import (
    CHIN_MM,
    EYES,
    face,
    marks,
    painted,
)
from tests.unit.picture.outline.contours.test_contour_lines import (
    NOTHING,
    placed,
    places_of_grid,
    reading,
)
from tests.unit.picture.outline.prominence.test_prominence import as_bytes, detected
from worker.picture.outline.contours.features.face_features import features_of
from worker.picture.outline.detected_points import DetectedPoints
from worker.picture.outline.leaving import parted
from worker.picture.outline.points.chains import Chains, chains_of
from worker.spec.reading import Face
from worker.spec.spec import Area
from worker.spec.strokes import FORM, INNER, PLAIN

#: Levels of a line that is given, how far it is on a border, its weight, and that below a face.
BELOW_FACES = [
    (20.0, 0.0, FORM, PLAIN),
    (90.0, 0.0, FORM, FORM),
    (20.0, 1.0, FORM, FORM),
    (20.0, 0.0, PLAIN, PLAIN),
    (20.0, 0.0, INNER, INNER),
]

HEAD = Area(left=0.4, top=0.1, width=0.2, height=0.8)


def bars(*, head: bool = True) -> tuple[DetectedPoints, Chains]:
    """Level edges, which cross a figure in the middle of the picture from side to side."""
    _, down = places_of_grid()
    grey = as_bytes(128 + 30 * np.sign(np.sin(down * np.pi / 20)))
    box = Area(left=0.45, top=0.4, width=0.02, height=0.02)
    faces = (Face(box=box, head=HEAD, eyes=()),) if head else ()
    found = detected(grey, reading(NOTHING, faces=faces))
    return found, chains_of(found.link)


def test_a_line_is_parted_where_it_leaves_a_figure_and_light_behind_it() -> None:
    found, chains = bars()
    lines, weight = parted(found, chains, np.full(len(chains), FORM, np.uint8))
    # Parts meet where the line leaves, so that no gap is between them.
    again = np.flatnonzero(np.diff(lines.order) == 0) + 1
    assert len(again) == len(lines) - len(chains)
    assert np.isin(again, lines.first).all()
    assert np.array_equal(np.delete(lines.order, again), chains.order)
    x = found.points.x[lines.order] * 0.25
    middle = np.add.reduceat(x, lines.first[:-1]) / lines.counts
    y = found.points.y[lines.order[lines.first[:-1]]] * 0.25
    beside_head = np.abs(y - 60) < 5
    assert weight[beside_head & (np.abs(middle - 75) < 10)].tolist() == [FORM]
    assert weight[beside_head & (np.abs(middle - 75) > 30)].tolist() == [INNER, INNER]


def test_what_does_not_leave_keeps_its_weight() -> None:
    found, chains = bars(head=False)
    weight = np.full(len(chains), FORM, np.uint8)
    same, kept = parted(found, chains, weight)
    assert same is chains
    assert kept is weight
    found, chains = bars()
    # A ring is no line that leaves.
    rings = Chains(order=chains.order, first=chains.first, closed=np.ones(len(chains), np.bool_))
    assert len(parted(found, rings, weight)[0]) == len(chains)


@pytest.mark.parametrize(("levels", "border", "given", "below"), BELOW_FACES)
def test_a_chin_that_hardly_differs_is_no_outline(
    levels: float, border: float, given: int, below: int
) -> None:
    """Level lines, one of which comes from far aside to 15 mm below a chin."""
    found, chains = bars()
    one = features_of(marks(), placed(face()), painted())
    assert one is not None
    many = np.ones(len(found.points), np.float32)
    found = replace(
        found,
        faces=(one,),
        measures=replace(found.measures, form=many * np.float32(levels)),
        prominence=replace(
            found.prominence, figure=many, border=many * np.float32(border), usual=many
        ),
    )
    lines, weight = parted(found, chains, np.full(len(chains), given, np.uint8))
    x, y = (at[lines.order] * 0.25 for at in (found.points.x, found.points.y))
    middle = np.add.reduceat(x, lines.first[:-1]) / lines.counts
    down = y[lines.first[:-1]]
    under = np.abs(down - EYES[0][1] - CHIN_MM - 15.0) < 5.0
    assert set(weight[under & (np.abs(middle - 75) < 10)].tolist()) == {below}
    assert set(weight[(down < EYES[0][1]) | (np.abs(middle - 75) > 40)].tolist()) == {given}
