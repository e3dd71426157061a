"""Edges of a picture, given by the polygons that they run along."""

from __future__ import annotations

import itertools

import numpy as np

from worker.picture.outline.contours.plain_forms import PlainForms
from worker.picture.outline.points.edge_points import EDGE, Points
from worker.picture.outline.points.sampled_picture import PixelGrid
from worker.picture.outline.ruling.segments import PictureEdges

#: A pixel of the grid.
PITCH_MM = 0.5
#: Wider than any picture here, in pixels and mm.
_COLUMNS, SIZE_MM = 4096, (500.0, 500.0)


def edges_along(
    *ways: list[tuple[float, float]], shaken_mm: float = 0.05, levels: float = 60.0
) -> PictureEdges:
    """Edges along open ways in mm, with what is dark to the side of positive cross products."""
    rng, parts, link = np.random.default_rng(1), [], []
    for way in ways:
        ends = np.array(way)
        chain = [np.zeros((0, 4))]
        for start, stop in itertools.pairwise(ends):
            length = np.hypot(*(stop - start))
            along = np.arange(0, length, PITCH_MM)[:, None] / length
            x, y = (stop - start) / length
            places = start + along * (stop - start) + rng.normal(0, shaken_mm, (len(along), 2))
            chain.append(np.concatenate((places, np.tile((y, -x), (len(along), 1))), axis=1))
        whole = np.concatenate(chain)
        at = np.arange(len(whole)) + sum(map(len, parts))
        link.append(np.stack((np.r_[-1, at[:-1]], np.r_[at[1:], -1]), axis=1))
        parts.append(whole)
    x, y, across_x, across_y = np.concatenate(parts).T.astype(np.float32)
    points = Points(
        key=(np.rint(y / PITCH_MM) * _COLUMNS + np.rint(x / PITCH_MM)).astype(np.int32),
        x=x / np.float32(PITCH_MM) - np.float32(0.5),
        y=y / np.float32(PITCH_MM) - np.float32(0.5),
        across_x=across_x,
        across_y=across_y,
        contrast=np.full(len(x), levels, np.float32),
        chroma=np.zeros(len(x), np.float32),
        kind=np.full(len(x), EDGE, np.uint8),
    )
    nowhere = np.zeros((200, 200), np.bool_)
    return PictureEdges(
        points=points,
        link=np.concatenate(link).astype(np.int32),
        plain=PlainForms(squares=nowhere, letters=nowhere, side_px=8.0),
        grid=PixelGrid(across_mm=PITCH_MM, down_mm=PITCH_MM),
        size_mm=SIZE_MM,
    )
