"""Ellipses through places: the direct least-squares fit of Fitzgibbon, Pilu and Fisher.

"Direct least square fitting of ellipses", IEEE PAMI 21(5), 1999, in the stable form of Halíř and
Flusser, "Numerically stable direct least squares fitting of ellipses", WSCG 1998. Of all conics
only an ellipse can come out, also of part of one with noise. Many are fitted at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from worker.picture.outline.polylines import Flags, Floats

#: Steps of Newton's way to the nearest place.
_STEPS = 3
#: Less than this is nothing; and a conic is no ellipse that is longer than wide so many times.
_NOTHING, _LINE = 1e-12, 1e4


@dataclass(frozen=True, kw_only=True, eq=False)
class Ellipses:
    """Ellipses, or one: then without the first axis of each array.

    Attributes:
        conic: a to f of a x² + b x y + c y² + d x + e y + f, which is 0 on the ellipse and positive
            outside, in its own units about its middle; (ellipses, 6).
        middle: Its centre, in mm; (ellipses, 2).
        scale_mm: Its unit.
        axes_mm: Half of its longer axis, and of its shorter one; (ellipses, 2).
        turn: Takes a place about the middle to a unit circle; (ellipses, 2, 2).
        there: Whether there is one.
    """

    conic: Floats
    middle: Floats
    scale_mm: Floats
    axes_mm: Floats
    turn: Floats
    there: Flags

    def taken(self, which: Flags | int) -> Ellipses:
        """Some of them, or one."""
        names = Ellipses.__dataclass_fields__
        return Ellipses(**{name: getattr(self, name)[which] for name in names})

    @property
    def around_mm(self) -> Floats:
        """The circumference (Ramanujan 1914, his first approximation)."""
        one, two = self.axes_mm[..., 0], self.axes_mm[..., 1]
        return np.asarray(np.pi * (3 * (one + two) - np.sqrt((3 * one + two) * (one + 3 * two))))

    def off_mm(self, places: Floats) -> tuple[Floats, Floats]:
        """How far places are outside, about (Sampson 1982), and unit vectors outwards.

        Args:
            places: Of each ellipse as many, in mm; (ellipses, places, 2).
        """
        value, x, y = self._value(*self._own(places))
        steep = np.maximum(np.hypot(x, y), 1e-9)
        return value / steep * self.scale_mm[..., None], np.stack((x / steep, y / steep), axis=-1)

    def nearest(self, places: Floats) -> Floats:
        """The places on it that are about the nearest to these; (ellipses, places, 2)."""
        x, y = self._own(places)
        for _ in range(_STEPS):
            value, along_x, along_y = self._value(x, y)
            far = value / np.maximum(along_x * along_x + along_y * along_y, 1e-9)
            x, y = x - far * along_x, y - far * along_y
        at = np.stack((x, y), axis=-1)
        return np.asarray(at * self.scale_mm[..., None, None] + self.middle[..., None, :])

    def angles(self, places: Floats) -> Floats:
        """Where around it places are, in radians of the circle that it is the picture of."""
        on = (places - self.middle[..., None, :]) @ np.swapaxes(self.turn, -1, -2)
        return np.asarray(np.arctan2(on[..., 1], on[..., 0]))

    def _own(self, places: Floats) -> tuple[Floats, Floats]:
        """Places about the middle, in the ellipse's units, across and down."""
        scale = self.scale_mm[..., None]
        x, y = ((places[..., axis] - self.middle[..., axis, None]) / scale for axis in (0, 1))
        return x, y

    def _value(self, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
        """The conic at places, and how fast it grows across and down."""
        a, b, c, d, e, f = np.moveaxis(self.conic, -1, 0)[..., None]
        along_x, along_y = 2 * a * x + b * y + d, b * x + 2 * c * y + e
        value = (x * (along_x + d) + y * (along_y + e)) / 2 + f
        return value, along_x, along_y


def ellipses_through(places: Floats, weight: Floats) -> Ellipses:
    """The ellipses that fit best.

    Args:
        places: Of each as many, in mm; (ellipses, places, 2).
        weight: How much each counts; (ellipses, places).
    """
    middle = places.mean(axis=-2)
    rest = places - middle[..., None, :]
    scale = np.sqrt((rest * rest).sum(axis=-1).mean(axis=-1))
    scale = np.where(scale > _NOTHING, scale, 1.0)
    conic = _direct(rest / scale[..., None, None], np.sqrt(weight))
    return _of_conics(conic, middle, scale)


def ellipse_through(places: Floats) -> Ellipses:
    """The ellipse that fits best; (places, 2) in mm."""
    return ellipses_through(places[None], np.ones((1, len(places)))).taken(0)


def _direct(at: Floats, weight: Floats) -> Floats:
    """Conics, with the scatter matrix reduced to its quadratic part (Halíř and Flusser)."""
    x, y = at[..., 0], at[..., 1]
    square = np.stack((x * x, x * y, y * y), axis=-1) * weight[..., None]
    plain = np.stack((x, y, np.ones_like(x)), axis=-1) * weight[..., None]
    turned = np.swapaxes(square, -1, -2)
    mixed, rest = turned @ plain, np.swapaxes(plain, -1, -2) @ plain
    # So little more keeps what is all on one line solvable, and moves nothing else.
    rest = rest + _NOTHING * np.eye(3)
    taken = -np.linalg.solve(rest, np.swapaxes(mixed, -1, -2))
    reduced = turned @ square + mixed @ taken
    reduced = np.stack(
        (reduced[..., 2, :] / 2, -reduced[..., 1, :], reduced[..., 0, :] / 2), axis=-2
    )
    vectors = np.linalg.eig(reduced)[1].real
    bent = 4 * vectors[..., 0, :] * vectors[..., 2, :] - vectors[..., 1, :] ** 2
    best = bent.argmax(axis=-1)[..., None, None]
    first = np.take_along_axis(vectors, best, axis=-1)
    return np.concatenate((first, taken @ first), axis=-2)[..., 0]


def _of_conics(conic: Floats, middle: Floats, scale: Floats) -> Ellipses:
    a, b, c, d, e, f = np.moveaxis(conic, -1, 0)
    bent = 4 * a * c - b * b
    safe = np.where(bent > _NOTHING, bent, 1.0)
    centre = np.stack((b * e - 2 * c * d, b * d - 2 * a * e), axis=-1) / safe[..., None]
    value = f + (d * centre[..., 0] + e * centre[..., 1]) / 2
    inside = -np.where(np.abs(value) > _NOTHING, value, 1.0)
    form = np.stack((a, b / 2, b / 2, c), axis=-1).reshape(*a.shape, 2, 2) / inside[..., None, None]
    curved, ways = np.linalg.eigh(form)
    there = (bent > _NOTHING) & (np.abs(value) > _NOTHING)
    there &= (curved > 0).all(axis=-1) & (curved[..., 1] < _LINE**2 * curved[..., 0])
    half = 1 / np.sqrt(np.maximum(curved, _NOTHING)) * scale[..., None]
    nothing = np.zeros_like(a)
    return Ellipses(
        conic=np.stack((a, b, c, nothing, nothing, value), axis=-1) / inside[..., None],
        middle=middle + centre * scale[..., None],
        scale_mm=scale,
        axes_mm=half,
        turn=np.swapaxes(ways, -1, -2) / half[..., None],
        there=there,
    )
