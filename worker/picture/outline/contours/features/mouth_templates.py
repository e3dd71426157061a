"""Mouths as templates: three or four curves from corner to corner, sought together.

As a deformable template is (Yuille, Hallinan and Cohen, "Feature extraction from faces using
deformable templates", International Journal of Computer Vision 8, 1992; from memory). All lengths
are in sides of the face's box, from the middle between the eyes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.features.irises import Doubles
from worker.picture.outline.contours.features.mouth_sights import MouthSights
from worker.picture.outline.points.gaussian import Floats

#: Where mouths are looked for, across and down, and how finely.
ACROSS, DOWN, STEP = (-0.36, 0.36), (0.22, 0.64), 0.0075
#: How thick the upper lip is, and the lower one; and how far open lips are apart at least.
_UPPER_LIP, _LOWER_LIP, OPEN = (0.004, 0.055), (0.012, 0.095), 0.02
#: How a mouth is as a rule: half its width, its middle across and down, level; and how much it
#: counts that one is not. Wider ones are likelier the whole, by this power.
_USUAL, _USUAL_COUNTS, _WIDER = (0.2, 0.0, 0.4, 0.0), (6.0, 8.0, 6.0, 120.0), 0.45
#: How much edges of an opening count beside a parting line.
_OPENING_COUNTS = 0.75
#: It is looked more finely around the best few, in these parts of the steps.
_FOLLOWED, _FINER = 3, (0.5, 0.25, 0.12)
#: Places along curves that are looked at, without corners.
_PLACES, _BUT_ENDS = 13, 0.94


@dataclass(frozen=True, kw_only=True)
class MouthTemplate:
    """One of them.

    Attributes:
        half: Of its width.
        middle, down: Where its middle is.
        slope: How far its right corner is lower than that, and its left one higher.
        arches: How far up from the corners are the outer and the inner edge of the upper lip, the
            inner and the outer edge of the lower lip. Where lips are closed the inner ones are one.
    """

    half: float
    middle: float
    down: float
    slope: float
    arches: tuple[float, ...]

    @property
    def opened(self) -> bool:
        """Whether something is between the lips."""
        return self.arches[1] > self.arches[2]

    def curves(self, share: Doubles) -> tuple[Doubles, ...]:
        """How far down the four curves are at places, from -1 to 1 between the corners."""
        chord = self.down + self.slope * share
        return tuple(np.asarray(chord - arch * (1 - share**2)) for arch in self.arches)


@dataclass(frozen=True, kw_only=True)
class _Measures:
    """Those that templates may have; of each kind some."""

    halves: Doubles
    middles: Doubles
    downs: Doubles
    slopes: Doubles
    arches: tuple[Doubles, ...]

    def around(self, best: MouthTemplate, part: float) -> _Measures:
        """Measures near those of a template, in parts of the steps between these."""
        near = np.linspace(-part, part, 3)
        halves, middles, downs, slopes = (
            value + near * (tried[1] - tried[0])
            for value, tried in (
                (best.half, self.halves),
                (best.middle, self.middles),
                (best.down, self.downs),
                (best.slope, self.slopes),
            )
        )
        arches = tuple(
            value + np.linspace(-2, 2, 5) * part * (tried[1] - tried[0])
            for value, tried in zip(best.arches, self.arches, strict=True)
        )
        return _Measures(halves=halves, middles=middles, downs=downs, slopes=slopes, arches=arches)


_ALL = _Measures(
    halves=np.linspace(0.12, 0.26, 6),
    middles=np.linspace(-0.12, 0.12, 5),
    downs=np.linspace(0.29, 0.5, 15),
    slopes=np.linspace(-0.04, 0.04, 5),
    arches=(
        np.linspace(-0.05, 0.08, 9),
        np.linspace(-0.08, 0.03, 7),
        np.linspace(-0.14, 0.03, 9),
        np.linspace(-0.2, -0.015, 12),
    ),
)


def best_template(sights: MouthSights) -> tuple[float, MouthTemplate]:
    """How well the best of all templates fits, and it: coarsely first, then more finely.

    Args:
        sights: Of the part that `ACROSS` and `DOWN` bound.
    """
    found = sorted(_fitted(sights, _ALL), key=lambda one: -one[0])[:_FOLLOWED]
    for part in _FINER:
        finer = [max(_fitted(sights, _ALL.around(one, part)), key=_fit) for _, one in found]
        found = [max(pair, key=_fit) for pair in zip(found, finer, strict=True)]
    return max(found, key=_fit)


def _fit(found: tuple[float, MouthTemplate]) -> float:
    return found[0]


def _fitted(sights: MouthSights, tried: _Measures) -> Iterator[tuple[float, MouthTemplate]]:
    """The best template of each width and middle."""
    share = np.linspace(-_BUT_ENDS, _BUT_ENDS, _PLACES)
    down, slope = (one.ravel() for one in np.meshgrid(tried.downs, tried.slopes, indexing="ij"))
    chords = down[:, None] + slope[:, None] * share
    rows = [_rows(chords[:, None] - bent[:, None] * (1 - share**2)) for bent in tried.arches]
    maps = (sights.upper, sights.over, sights.under, sights.lower)
    unusual = _unusual(down, 2) + _unusual(slope, 3)
    for half in tried.halves.tolist():
        for middle in tried.middles.tolist():
            column = np.rint((middle + share * half - ACROSS[0]) / STEP).astype(np.int64)
            if column[0] < 0 or column[-1] >= sights.upper.shape[1]:
                continue
            seen = [one[row, column].mean(axis=2) for one, row in zip(maps, rows, strict=True)]
            parting = sights.parting[rows[1], column].mean(axis=2)
            fits, inner = _together(tried.arches, seen, parting)
            worth = fits * (half / _USUAL[0]) ** _WIDER - unusual
            at = int(worth.argmax())
            arches = _arches(tried.arches, int(inner[at]), seen[0][at], seen[3][at])
            less = _unusual(half, 0) + _unusual(middle, 1)
            yield (
                float(worth[at] - less),
                MouthTemplate(
                    half=half,
                    middle=middle,
                    down=float(down[at]),
                    slope=float(slope[at]),
                    arches=arches,
                ),
            )


def _unusual(value: Doubles | float, which: int) -> Doubles:
    """How much it counts that one measure is not as usual."""
    return np.asarray(_USUAL_COUNTS[which] * (value - _USUAL[which]) ** 2, np.float64)


def _together(
    bent: tuple[Doubles, ...], seen: list[Floats], parting: Floats
) -> tuple[Floats, npt.NDArray[np.int64]]:
    """The best fit of each row of what is seen of arches, and the number of its inner ones.

    Lips have a thickness, and open ones are apart; closed ones are counted first.
    """
    (a, b, c, d), (upper, over, under, lower) = bent, seen
    above = _outer(a[None] - b[:, None], _UPPER_LIP, upper)
    closed = parting + above + _outer(b[:, None] - d[None], _LOWER_LIP, lower)
    below = _outer(c[:, None] - d[None], _LOWER_LIP, lower)
    opened = (_OPENING_COUNTS * over + above)[:, :, None]
    opened = opened + (_OPENING_COUNTS * under + below)[:, None]
    opened = np.where(b[:, None] - c[None] > OPEN, opened, -np.inf)
    both = np.concatenate((closed, opened.reshape(len(upper), -1)), axis=1)
    return np.asarray(both.max(axis=1), np.float32), both.argmax(axis=1)


def _arches(
    bent: tuple[Doubles, ...], inner: int, upper: Floats, lower: Floats
) -> tuple[float, ...]:
    """All four of one template, by the number of its inner ones."""
    a, b, c, d = bent
    over = under = float(b[min(inner, len(b) - 1)])
    if inner >= len(b):
        one, two = divmod(inner - len(b), len(c))
        over, under = float(b[one]), float(c[two])
    high = int(np.where(_thick(a - over, _UPPER_LIP), upper, -np.inf).argmax())
    low = int(np.where(_thick(under - d, _LOWER_LIP), lower, -np.inf).argmax())
    return float(a[high]), over, under, float(d[low])


def _thick(lip: Doubles, ends: tuple[float, float]) -> npt.NDArray[np.bool_]:
    return np.asarray((lip > ends[0]) & (lip < ends[1]))


def _outer(lip: Doubles, ends: tuple[float, float], seen: Floats) -> Floats:
    """The best outer edge for each inner one, (rows, inner ones)."""
    fits = np.where(_thick(lip, ends), seen[:, None], np.float32(-np.inf))
    return np.asarray(fits.max(axis=2), np.float32)


def _rows(down: Doubles) -> npt.NDArray[np.int64]:
    most = round((DOWN[1] - DOWN[0]) / STEP)
    return np.clip(np.rint((down - DOWN[0]) / STEP).astype(np.int64), 0, most)
