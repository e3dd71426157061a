"""Short strokes in a face."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from worker.picture.outline.feature_lines.strays import strays
from worker.picture.outline.points.chains import Chains, chains_of
from worker.picture.outline.points.edge_points import EDGE, Points

FACE_PX = 400.0


def straight(*lengths: int) -> tuple[Points, Chains]:
    """Lines of so many pixels, one above the other."""
    count = sum(lengths)
    flat = np.zeros(count, np.float32)
    along = np.concatenate([np.arange(one) for one in lengths])
    line = np.repeat(np.arange(len(lengths)), lengths)
    at = np.arange(count)
    link = np.stack(
        (np.where(along > 0, at - 1, -1), np.where(np.append(along[1:], 0) > 0, at + 1, -1)), axis=1
    )
    points = Points(
        key=at.astype(np.int32),
        x=along.astype(np.float32),
        y=(20 * line).astype(np.float32),
        across_x=flat,
        across_y=flat + 1,
        contrast=flat,
        chroma=flat,
        kind=np.full(count, EDGE, np.uint8),
    )
    return points, chains_of(link.astype(np.int32))


def found(points: Points, chains: Chains, inside: np.ndarray, texture: float = 0.0) -> list[bool]:
    face_px = np.full(len(points), FACE_PX, np.float32)
    beside = inside.astype(np.float32)
    return strays(points, chains, beside, face_px, texture=texture).tolist()


def test_what_is_short_for_the_face_is_a_stray_and_a_fold_is_not() -> None:
    points, chains = straight(30, 120)
    assert found(points, chains, np.ones(150)) == [True, False]


def test_what_comes_into_the_face_is_none() -> None:
    points, chains = straight(30)
    assert found(points, chains, np.arange(30) > 10) == [False]


def test_what_is_closed_is_none() -> None:
    points, chains = straight(30)
    assert found(points, replace(chains, closed=~chains.closed), np.ones(30)) == [False]


@pytest.mark.parametrize(("texture", "stray"), [(0.0, True), (0.3, True), (0.5, False)])
def test_where_texture_is_wanted_they_are_drawn(texture: float, *, stray: bool) -> None:
    points, chains = straight(30)
    assert found(points, chains, np.ones(30), texture) == [stray]
