"""Eyes and textures painted at known places, in mm of a picture of 150 x 112.5 mm."""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from tests.unit.picture.outline.contours.test_contour_lines import (
    GRID,
    NOTHING,
    Bytes,
    Floats,
    placed,
    places_of_grid,
    reading,
)
from worker.picture.outline.contours.plain_forms import PlainForms
from worker.picture.outline.contours.round_forms.forms import RoundForms
from worker.picture.outline.contours.round_forms.round_forms import round_forms
from worker.picture.outline.points.edge_points import HALO_PX, Points, gradients_of, points_of
from worker.picture.outline.points.sampled_picture import SampledPicture
from worker.spec.reading import Reading

PITCH_MM = GRID.pitch_mm
SHAPE = places_of_grid()[0].shape
FUR, DARK, IRIS, LIGHT = 150.0, 20.0, 120.0, 230.0


def ground() -> Floats:
    return np.full(SHAPE, FUR, np.float32)


def filled(grey: Floats, inside_mm: Floats, level: float) -> Floats:
    """With a level where one is so many mm inside; an edge is as wide as a pixel."""
    share = np.clip(inside_mm / PITCH_MM + 0.5, 0, 1)
    return np.asarray(grey + share * (level - grey), np.float32)


def disc(middle: tuple[float, float], radius: float) -> Floats:
    """How far each place is inside a disc."""
    x, y = places_of_grid()
    return np.asarray(radius - np.hypot(x - middle[0], y - middle[1]))


def almond(middle: tuple[float, float], half: float, high: float) -> Floats:
    """How far each place is inside two arcs from corner to corner, each so high."""
    radius = (half**2 + high**2) / (2 * high)
    below, above = ((middle[0], middle[1] + sign * (radius - high)) for sign in (1, -1))
    return np.minimum(disc(below, radius), disc(above, radius))


def bird(middle: tuple[float, float], radius: float) -> Floats:
    """A black eye with a light in it."""
    grey = filled(ground(), disc(middle, radius), DARK)
    return filled(grey, disc((middle[0] + radius / 4, middle[1] - radius / 3), radius / 4), LIGHT)


def pictured(grey: Floats) -> SampledPicture:
    levels: Bytes = np.rint(np.clip(grey, 0, 255)).astype(np.uint8)
    return SampledPicture(grey=levels, across_mm=GRID.across_mm, down_mm=GRID.down_mm)


def edges(sampled: SampledPicture) -> Points:
    padded = np.pad(sampled.grey, HALO_PX, mode="edge")
    return points_of(gradients_of(padded, -HALO_PX, -HALO_PX, sampled.shape), 5.0)


def found(grey: Floats, read: Reading | None = None) -> RoundForms:
    sampled = pictured(grey)
    squares = np.zeros((8, 10), bool)
    plain = PlainForms(squares=squares, letters=squares, side_px=64.0)
    return round_forms(edges(sampled), placed(read or reading(NOTHING)), sampled, plain)


def in_mm(places: np.ndarray) -> np.ndarray:
    return np.asarray((places + 0.5) * PITCH_MM)


def off_disc(places: np.ndarray, middle: tuple[float, float], radius: float) -> np.ndarray:
    """How far places of the grid are from a circle, in mm."""
    return np.asarray(np.abs(np.hypot(*(in_mm(places) - middle).T) - radius))


def blobs(count: int, seed: int) -> Floats:
    """Leaves on each other: ellipses of any direction and level."""
    any_of = np.random.default_rng(seed)
    image = Image.new("L", SHAPE[::-1], int(FUR))
    leaf, turn = ImageDraw.Draw(image), np.linspace(0, 2 * np.pi, 24)
    for _ in range(count):
        angle, long = any_of.uniform(0, np.pi), any_of.uniform(12, 36)
        along, aside = long * np.cos(turn), 0.4 * long * np.sin(turn)
        x = any_of.uniform(0, SHAPE[1]) + along * np.cos(angle) - aside * np.sin(angle)
        y = any_of.uniform(0, SHAPE[0]) + along * np.sin(angle) + aside * np.cos(angle)
        leaf.polygon([*zip(x.tolist(), y.tolist(), strict=True)], int(any_of.uniform(10, 240)))
    return np.asarray(image, np.float32)


def bricks() -> Floats:
    """Dark bricks between light joints, each with a stain."""
    grey = np.full(SHAPE, 210.0, np.float32)
    for row in range(9):
        for column in range(8):
            middle = (column * 20.0 + 10 * (row % 2), row * 13.0 + 6)
            x, y = places_of_grid()
            inside = np.minimum(9 - np.abs(x - middle[0]), 5.5 - np.abs(y - middle[1]))
            grey = filled(grey, np.asarray(inside), 60.0)
            grey = filled(grey, disc((middle[0] + 2, middle[1] - 1), 1.2), 170.0)
    return grey
