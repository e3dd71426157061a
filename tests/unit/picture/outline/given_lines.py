"""Straight lines that are given as points, for tests of what becomes of lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from worker.picture.outline.judging import Lines, finer
from worker.picture.outline.points.chains import Chains
from worker.picture.outline.points.edge_points import EDGE, Points

PITCH_MM = 0.5


def along(start: tuple[float, float], end: tuple[float, float]) -> np.ndarray:
    """Points half a millimetre apart, in mm."""
    far = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    share = np.linspace(0, 1, round(far / PITCH_MM) + 1)[:, None]
    return np.array(start) + share * (np.array(end) - np.array(start))


def lines_of(
    *ways: np.ndarray, worth: tuple[float, ...] = (), **values: float
) -> tuple[Points, Lines]:
    """Straight lines, with what is said of all of them."""
    places = np.concatenate(ways) / PITCH_MM
    counts = [len(way) for way in ways]
    across = np.concatenate([np.tile(normal(way), (len(way), 1)) for way in ways])
    points, chains = points_along(places, across, counts, contrast=20.0)
    said = {"face_mm": 0.0, "score": 10.0, "sureness": 9.0, "likely": 0.0, "read": 0.0}
    said |= {"known": 1.0, **values}
    said.setdefault("scale", float(finer(np.array([said["face_mm"]], np.float32))[0]))
    each = {name: np.full(len(ways), value, np.float32) for name, value in said.items()}
    return points, Lines(
        chains=chains,
        length_mm=chains.lengths(points.x, points.y) * np.float32(PITCH_MM),
        worth=np.array(worth or [2.0] * len(ways), np.float32),
        beside=np.zeros(len(ways), np.float32),
        plain=np.zeros(len(ways), np.float32),
        bounded=np.zeros(len(ways), np.float32),
        **each,
    )


def points_along(
    places: np.ndarray, across: np.ndarray, counts: Sequence[int], contrast: float = 0.0
) -> tuple[Points, Chains]:
    """Open lines, so many places each, in pixels: (places, 2), and unit vectors across them."""
    nothing = np.zeros(len(places), np.float32)
    points = Points(
        key=np.arange(len(places), dtype=np.int32),
        x=places[:, 0].astype(np.float32),
        y=places[:, 1].astype(np.float32),
        across_x=across[:, 0].astype(np.float32),
        across_y=across[:, 1].astype(np.float32),
        contrast=nothing + np.float32(contrast),
        chroma=nothing,
        kind=np.full(len(places), EDGE, np.uint8),
    )
    return points, Chains(
        order=np.arange(len(places)),
        first=np.concatenate(([0], np.cumsum(counts))),
        closed=np.zeros(len(counts), bool),
    )


def normal(way: np.ndarray) -> np.ndarray:
    step = (way[-1] - way[0]) / np.hypot(*(way[-1] - way[0]))
    return np.array((-step[1], step[0]))
