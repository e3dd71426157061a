"""Drawings whose lines are known, for tests and benchmark of outlines.

Filled shapes of many contrasts with sharp edges, and pen strokes of known middle, at random
places that do not touch; with the grain and the compression of a camera if wanted.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

Floats = npt.NDArray[np.float64]
Bytes = npt.NDArray[np.uint8]

WIDTH_MM, HEIGHT_MM = 300.0, 200.0
#: As 24 megapixels have it on 60 x 40 cm, nearly.
PX_PER_MM = 8
#: Drawn this much finer, then averaged.
_FINER = 4
_CELL_MM = 50.0
_STEP_MM = 0.1


@dataclass(frozen=True)
class Drawing:
    """A picture and its lines.

    Attributes:
        grey: (rows, columns).
        lines: Places in mm, (places, 2), every 0.1 mm along all lines.
        half_mm: Half of the pen's width at each place; 0 along the edge of a shape.
    """

    grey: Bytes
    lines: Floats
    half_mm: Floats


def drawing(seed: int, width_mm: float = WIDTH_MM, height_mm: float = HEIGHT_MM) -> Drawing:
    """Shapes and strokes in turns, one in each cell of 5 cm, on a shaded ground."""
    random = np.random.default_rng(seed)
    scale = PX_PER_MM * _FINER
    paper = Image.new("L", (round(width_mm * scale), round(height_mm * scale)), 0)
    pens = ImageDraw.Draw(paper)
    lines, halves = [], []
    # Odd values are differences from the ground: shapes keep their contrast on any shade.
    for number, (x, y) in enumerate(_cells(width_mm, height_mm)):
        contrast = int(np.exp(random.uniform(math.log(14.0), math.log(110.0))))
        middle = np.array([x, y])
        if number % 3 == 2:
            path, half = _stroke(random, middle), random.uniform(0.125, 0.4)
            pens.line([*map(tuple, path * scale)], contrast, round(2 * half * scale), "curve")
        else:
            path, half = _shape(random, middle, number), 0.0
            pens.polygon([*map(tuple, path * scale)], contrast)
        lines.append(_sampled(path))
        halves.append(np.full(len(lines[-1]), half))
    drawn = np.asarray(paper.reduce(_FINER), np.float64)
    down, across = np.mgrid[: drawn.shape[0], : drawn.shape[1]]
    ground = 190.0 + 20.0 * across / drawn.shape[1] - 25.0 * down / drawn.shape[0]
    grey = np.clip(np.rint(ground - drawn), 0, 255).astype(np.uint8)
    return Drawing(grey, np.concatenate(lines), np.concatenate(halves))


def spoilt(grey: Bytes, noise: float, quality: int | None, seed: int = 0) -> Bytes:
    """With grain of this standard deviation, then compressed as JPEG."""
    values = grey + np.random.default_rng(seed).normal(0, noise, grey.shape) if noise else grey
    image = Image.fromarray(np.clip(np.rint(values), 0, 255).astype(np.uint8))
    if quality is None:
        return np.asarray(image)
    file = io.BytesIO()
    image.save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file))


def _cells(width_mm: float, height_mm: float) -> list[tuple[float, float]]:
    half = _CELL_MM / 2
    return [
        (x, y)
        for y in np.arange(half, height_mm, _CELL_MM)
        for x in np.arange(half, width_mm, _CELL_MM)
    ]


def _shape(random: np.random.Generator, middle: Floats, number: int) -> Floats:
    """A closed way: circle, polygon or wavy curve."""
    turn, radius = random.uniform(0, math.tau), random.uniform(9.0, 20.0)
    if number % 3 == 0:
        angle = np.linspace(0, math.tau, 721)
        wave = 1 + (0.18 * np.sin(random.integers(2, 5) * angle) if number % 2 else 0 * angle)
        far = radius * wave
    else:
        angle = np.linspace(0, math.tau, random.integers(3, 8) + 1)
        far = np.full(len(angle), radius)
    way = np.stack((np.cos(angle + turn), np.sin(angle + turn)), axis=1)
    return np.asarray(middle + way * far[:, None])


def _stroke(random: np.random.Generator, middle: Floats) -> Floats:
    """An open way: a wave, turned."""
    along = np.linspace(-20.0, 20.0, 401)
    aside = random.uniform(1.0, 6.0) * np.sin(along / random.uniform(3.5, 8.0))
    turn = random.uniform(0, math.tau)
    across = (np.cos(turn), np.sin(turn))
    return np.asarray(
        middle
        + np.stack(
            (along * across[0] - aside * across[1], along * across[1] + aside * across[0]), axis=1
        )
    )


def _sampled(path: Floats) -> Floats:
    """Places every 0.1 mm along a way."""
    step = np.hypot(*np.diff(path, axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(step)))
    at = np.arange(0.0, along[-1], _STEP_MM)
    return np.stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)], axis=1)
