"""The likeliest ways in strips over the reading, found exactly, each as a whole.

Where a contour is doubtful at every pixel, as along fur, one that is followed step by step goes
astray; of all ways through a strip one is plainly the likeliest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.placed_reading import PlacedReading
from worker.picture.outline.points.gaussian import Floats
from worker.reading.best_paths import best_path

#: No place is likelier than this; so much is a place worth less at a strip's side; and so much it
#: costs to go a row aside, or two.
_MOST_LIKELY, _ASIDE, _TURNS = 0.8, 0.15, (0.08, 0.3)
#: What lies beside a way is seen so far aside, in pixels of the map.
_ASIDE_PX = (5.0, 10.0)
#: How often a way is averaged along itself.
_ROUNDS = 4
#: So many strips at a time: one takes some 90 kB, and a picture may have tens of thousands.
_AT_ONCE = 500

Complex = npt.NDArray[np.complex128]
Doubles = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class WayStrips:
    """Strips around curves, over the maps of the whole reference.

    Attributes:
        placed: The reading.
        curve: (strips, columns) the middle of each, x + iy in pixels of the map.
        half: (strips,) how wide each is to either side, in these pixels.
        rows: How many places lie beside each other; odd.
    """

    placed: PlacedReading
    curve: Complex
    half: Doubles
    rows: int

    def likeliest(self) -> tuple[Complex, Doubles]:
        """The likeliest way from end to end of each, and how likely its places are, 0 to 1."""
        some = [slice(at, at + _AT_ONCE) for at in range(0, max(len(self.half), 1), _AT_ONCE)]
        parts = [_likeliest(replace(self, curve=self.curve[at], half=self.half[at])) for at in some]
        way, likely = (np.concatenate(each) for each in zip(*parts, strict=True))
        return way, likely


def _likeliest(strips: WayStrips) -> tuple[Complex, Doubles]:
    """The same, of all at once."""
    curve, rows = strips.curve, strips.rows
    aside = np.linspace(-1, 1, rows)[:, None]
    across = 1j * steps_along(curve) * strips.half[:, None]
    strip = curve[:, None] + across[:, None] * aside
    likely = read(strips.placed, "contour", strip)
    worth = np.minimum(likely, _MOST_LIKELY) - _ASIDE * np.abs(aside)
    # From an end it goes a row aside for each column.
    columns = curve.shape[1]
    column, row = np.arange(columns), np.abs(np.arange(rows) - rows // 2)
    worth[:, row[:, None] > np.minimum(column, column[::-1])] = -columns
    path = best_path(worth, _TURNS)
    number = np.arange(len(path))[:, None]
    way = curve + across * _levelled(aside[path, 0])
    return way, likely[number, path, column]


def steps_along(way: Complex) -> Complex:
    """Unit steps along ways."""
    step = np.gradient(way, axis=1) if len(way) else way
    return np.asarray(step / np.maximum(np.abs(step), 1e-9))


def to_grid(placed: PlacedReading, at: Complex) -> tuple[Floats, Floats]:
    """Places of the grid, from places in pixels of the maps of the whole."""
    x, y = at.real.ravel().astype(np.float32), at.imag.ravel().astype(np.float32)
    return placed.layers[0].to_grid(x, y)


def read(placed: PlacedReading, name: str, at: Complex) -> Doubles:
    """A map's values, 0 to 1, at places in pixels of the maps of the whole."""
    return placed.sampled(name, *to_grid(placed, at)).astype(np.float64).reshape(at.shape)


def sides(placed: PlacedReading, way: Complex) -> tuple[Doubles, Doubles]:
    """How likely places to either side of ways are of what the picture is of; as the ways are."""
    across = 1j * steps_along(way)
    one, two = (
        np.mean([_subject(placed, way + sign * far * across) for far in _ASIDE_PX], axis=0)
        for sign in (-1, 1)
    )
    return one, two


def _subject(placed: PlacedReading, at: Complex) -> Doubles:
    return placed.subject(*to_grid(placed, at)).astype(np.float64).reshape(at.shape)


def _levelled(values: Doubles) -> Doubles:
    """Averaged along ways, of which ends stay."""
    for _ in range(_ROUNDS):
        inner = (values[:, :-2] + 2 * values[:, 1:-1] + values[:, 2:]) / 4
        values = np.concatenate((values[:, :1], inner, values[:, -1:]), axis=1)
    return values
