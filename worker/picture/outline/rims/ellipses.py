"""Ellipses through places: the direct least-squares fit of Fitzgibbon, Pilu and Fisher.

"Direct least square fitting of ellipses", IEEE PAMI 21(5), 1999, in the stable form of Halíř and
Flusser, "Numerically stable direct least squares fitting of ellipses", WSCG 1998. Of all conics
only an ellipse can come out, also of part of one with noise.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Floats

#: Steps of Newton's way to the nearest place.
_STEPS = 3
#: So many places are the fewest that have an ellipse.
_FEWEST = 6


@dataclass(frozen=True, kw_only=True, eq=False)
class Ellipse:
    """An ellipse.

    Attributes:
        conic: a to f of a x² + b x y + c y² + d x + e y + f = 0, in its own units about its middle.
        middle: Its centre, in mm; (2,).
        scale_mm: Its unit.
        axes_mm: Half of its longer axis, and of its shorter one.
        turn: Takes a place about the middle to a unit circle; (2, 2).
    """

    conic: Floats
    middle: Floats
    scale_mm: float
    axes_mm: tuple[float, float]
    turn: Floats

    @property
    def around_mm(self) -> float:
        """Its circumference (Ramanujan 1914, his first approximation)."""
        one, two = self.axes_mm
        return float(np.pi * (3 * (one + two) - np.sqrt((3 * one + two) * (one + 3 * two))))

    def off_mm(self, places: Floats) -> tuple[Floats, Floats]:
        """How far places are outside, about (Sampson 1982), and the unit vectors outwards."""
        at = (places - self.middle) / self.scale_mm
        value, slope = self._value(at)
        steep = np.maximum(np.hypot(*slope.T), 1e-9)
        return value / steep * self.scale_mm, slope / steep[:, None]

    def nearest(self, places: Floats) -> Floats:
        """The places on it that are about the nearest to these."""
        at = (places - self.middle) / self.scale_mm
        for _ in range(_STEPS):
            value, slope = self._value(at)
            at = at - (value / np.maximum((slope * slope).sum(axis=1), 1e-9))[:, None] * slope
        return np.asarray(at * self.scale_mm + self.middle)

    def angles(self, places: Floats) -> Floats:
        """Where around it places are, in radians of the circle that it is the picture of."""
        on = (places - self.middle) @ self.turn.T
        return np.asarray(np.arctan2(on[:, 1], on[:, 0]))

    def _value(self, at: Floats) -> tuple[Floats, Floats]:
        a, b, c, d, e, f = self.conic
        x, y = at.T
        value = a * x * x + b * x * y + c * y * y + d * x + e * y + f
        slope = np.stack((2 * a * x + b * y + d, b * x + 2 * c * y + e), axis=1)
        return value, slope


def ellipse_through(places: Floats, weight: Floats) -> Ellipse | None:
    """The ellipse that fits best, or none where there is none.

    Args:
        places: In mm; (places, 2).
        weight: How much each counts.
    """
    if len(places) < _FEWEST:
        return None
    middle = places.mean(axis=0)
    scale = float(np.sqrt(((places - middle) ** 2).sum(axis=1).mean()))
    if scale < 1e-6:  # noqa: PLR2004 - one place.
        return None
    conic = _direct(*((places - middle) / scale).T, np.sqrt(weight))
    return None if conic is None else _of_conic(conic, middle, scale)


def _direct(x: Floats, y: Floats, weight: Floats) -> Floats | None:
    """The conic, with the scatter matrix reduced to its quadratic part (Halíř and Flusser)."""
    square = np.stack((x * x, x * y, y * y), axis=1) * weight[:, None]
    plain = np.stack((x, y, np.ones_like(x)), axis=1) * weight[:, None]
    mixed, rest = square.T @ plain, plain.T @ plain
    try:
        taken = -np.linalg.solve(rest, mixed.T)
    except np.linalg.LinAlgError:
        return None
    reduced = square.T @ square + mixed @ taken
    reduced = np.stack((reduced[2] / 2, -reduced[1], reduced[0] / 2))
    vectors = np.linalg.eig(reduced)[1].real
    good = 4 * vectors[0] * vectors[2] - vectors[1] ** 2 > 0
    if not good.any():
        return None
    first = vectors[:, np.flatnonzero(good)[0]]
    return np.concatenate((first, taken @ first))


def _of_conic(conic: Floats, middle: Floats, scale: float) -> Ellipse | None:
    a, b, c, d, e, f = conic
    form = np.array(((a, b / 2), (b / 2, c)))
    centre = np.linalg.solve(form, (-d / 2, -e / 2))
    value = f + (d * centre[0] + e * centre[1]) / 2
    curved, ways = np.linalg.eigh(-form / value if value else form)
    if value == 0 or not (curved > 0).all():
        return None
    half = 1 / np.sqrt(curved)
    # About its middle, of the sign that outside is positive.
    moved = np.array((a, b, c, 0.0, 0.0, value)) / -value
    return Ellipse(
        conic=moved,
        middle=middle + centre * scale,
        scale_mm=scale,
        axes_mm=(float(half.max() * scale), float(half.min() * scale)),
        turn=ways.T / (half * scale)[:, None],
    )
