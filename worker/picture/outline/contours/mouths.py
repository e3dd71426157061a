"""Mouths: the outlines of both lips, and between them the line where they part, or an opening.

What is linked around a mouth is teeth, gloss and the shadow below it; a draughtsman draws three or
four curves from corner to corner (common practice). So these are sought together, as a deformable
template is (Yuille, Hallinan and Cohen, "Feature extraction from faces using deformable
templates", International Journal of Computer Vision 8, 1992; from memory), then each goes where
it is seen best nearby. They are used for lines and kept nowhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.picture.outline.contours.bands import Bending, best_band, fair
from worker.picture.outline.contours.face_frames import FaceFrame, Patch
from worker.picture.outline.contours.irises import Doubles
from worker.picture.outline.contours.mouth_sights import MouthSights, mouth_sights
from worker.picture.outline.contours.placed_reading import between_pixels
from worker.picture.outline.points.gaussian import Floats
from worker.picture.outline.points.sampled_picture import SampledPicture

#: All lengths are in sides of the face's box, from the middle between the eyes. Where mouths are
#: looked for, across and down, and how finely.
_ACROSS, _DOWN, _STEP = (-0.36, 0.36), (0.22, 0.64), 0.0075
#: Half of a mouth's width, its middle across and down, and how far the right corner is lower.
_HALVES = np.linspace(0.12, 0.26, 8)
_MIDDLES = np.linspace(-0.12, 0.12, 7)
_DOWNS = np.linspace(0.29, 0.5, 15)
_SLOPES = np.linspace(-0.04, 0.04, 5)
#: How far curves arch up from the corners: outer edge of the upper lip, its inner one, the inner
#: edge of the lower lip, its outer one.
_ARCHES = (
    np.linspace(-0.05, 0.08, 9),
    np.linspace(-0.08, 0.03, 7),
    np.linspace(-0.14, 0.03, 9),
    np.linspace(-0.2, -0.015, 12),
)
#: How thick the upper lip is, and the lower one; and how far open lips are apart at least.
_UPPER_LIP, _LOWER_LIP, _OPEN = (0.004, 0.055), (0.012, 0.095), 0.02
#: How a mouth is as a rule: half its width, its middle across and down, level; and how much it
#: counts that one is not. Wider ones are likelier the whole, by this power.
_USUAL, _USUAL_COUNTS, _WIDER = (0.2, 0.0, 0.4, 0.0), (6.0, 8.0, 6.0, 60.0), 0.45
#: How much edges of an opening count beside a parting line.
_OPENING_COUNTS = 0.75
#: It is looked more finely around the best, in these parts of the steps.
_FINER = (0.5, 0.25)
#: A template that fits less well is none.
_LEAST_FIT = 2.0
#: Places along curves that are looked at, without corners, and that are drawn.
_PLACES, _BUT_ENDS, _DRAWN = 13, 0.94, 41
#: A curve goes so many steps up or down to where it is seen, of this size; what a bend costs; and
#: waves of so many places are smoothed.
_REACH, _FINE, _BENDS, _FAIR = 5, 0.004, 0.3, 20.0
#: What is seen less of lips' outer edges is not drawn.
_LEAST_SEEN = 0.3
#: What lies so near is the mouth's.
_NEAR = 0.022


@dataclass(frozen=True, kw_only=True)
class Mouth:
    """One of them.

    Attributes:
        frame: The face's.
        across: Places from corner to corner.
        outer: How far down the outer edges of the upper and the lower lip are there; None of one
            that is not seen.
        inner: The line where lips part; or the upper and lower edge of what is between them.
    """

    frame: FaceFrame
    across: Doubles
    outer: tuple[Doubles | None, Doubles | None]
    inner: tuple[Doubles, ...]

    def lines(self) -> tuple[list[Doubles], list[Doubles]]:
        """Outer and inner lines on the grid: (places, 2) each."""
        outer = [self.frame.on_grid(self.across, one) for one in self.outer if one is not None]
        return outer, [self.frame.on_grid(self.across, one) for one in self.inner]

    def covers(self, across: Doubles, down: Doubles) -> npt.NDArray[np.bool_]:
        """Which places of the frame are in it or near it."""
        drawn = np.array([one for one in (*self.outer, *self.inner) if one is not None])
        upper, lower = (
            np.interp(across, self.across, one) for one in (drawn.min(axis=0), drawn.max(axis=0))
        )
        along = (across > self.across[0] - _NEAR) & (across < self.across[-1] + _NEAR)
        return np.asarray(along & (down > upper - _NEAR) & (down < lower + _NEAR))


def mouths(frames: tuple[FaceFrame, ...], sampled: SampledPicture) -> tuple[Mouth, ...]:
    """Those that are seen clearly, in colour alone.

    Args:
        frames: Of faces.
        sampled: The picture.
    """
    found = [_mouth(frame, sampled) for frame in frames] if sampled.chroma else []
    return tuple(one for one in found if one is not None)


@dataclass(frozen=True, kw_only=True)
class _Template:
    """Half the width, middle across and down, how far the right corner is lower; and arches up."""

    half: float
    middle: float
    down: float
    slope: float
    arches: tuple[float, ...]
    opened: bool


@dataclass(frozen=True, kw_only=True)
class _Measures:
    """Those that templates may have; of each kind some."""

    halves: Doubles
    middles: Doubles
    downs: Doubles
    slopes: Doubles
    arches: tuple[Doubles, ...]


_ALL = _Measures(halves=_HALVES, middles=_MIDDLES, downs=_DOWNS, slopes=_SLOPES, arches=_ARCHES)


def _mouth(frame: FaceFrame, sampled: SampledPicture) -> Mouth | None:
    """The template that fits one face best, if it fits well: coarsely first, then more finely."""
    patch = Patch.between(frame, _ACROSS, _DOWN, _STEP)
    sights = mouth_sights(patch, sampled)
    fit, best = _best(sights, _ALL)
    for part in _FINER:
        finer, template = _best(sights, _around(best, part))
        fit, best = max((fit, best), (finer, template), key=lambda one: one[0])
    return _settled(frame, sights, best) if fit > _LEAST_FIT else None


def _around(best: _Template, part: float) -> _Measures:
    """Measures between those that were tried, in parts of their steps."""
    near = np.linspace(-part, part, 3)
    halves, middles, downs, slopes = (
        value + near * (tried[1] - tried[0])
        for value, tried in (
            (best.half, _HALVES),
            (best.middle, _MIDDLES),
            (best.down, _DOWNS),
            (best.slope, _SLOPES),
        )
    )
    arches = tuple(
        value + np.linspace(-2, 2, 5) * part * (tried[1] - tried[0])
        for value, tried in zip(best.arches, _ARCHES, strict=True)
    )
    return _Measures(halves=halves, middles=middles, downs=downs, slopes=slopes, arches=arches)


def _best(sights: MouthSights, tried: _Measures) -> tuple[float, _Template]:
    """The best of all templates of some measures, and how well it fits."""
    share = np.linspace(-_BUT_ENDS, _BUT_ENDS, _PLACES)
    down, slope = (one.ravel() for one in np.meshgrid(tried.downs, tried.slopes, indexing="ij"))
    chords = down[:, None] + slope[:, None] * share
    at = [_rows(chords[:, None] - bent[:, None] * (1 - share**2)) for bent in tried.arches]
    combined = _Combined.of(tried.arches)
    found: tuple[float, _Template | None] = (-np.inf, None)
    for half in tried.halves.tolist():
        for middle in tried.middles.tolist():
            column = np.rint((middle + share * half - _ACROSS[0]) / _STEP).astype(np.int64)
            if column[0] < 0 or column[-1] >= sights.upper.shape[1]:
                continue
            upper, over, under, lower = (
                seen[row, column].mean(axis=2)
                for seen, row in zip(
                    (sights.upper, sights.over, sights.under, sights.lower), at, strict=True
                )
            )
            parting = sights.parting[at[1], column].mean(axis=2)
            fits, which = combined.fits(upper, over, under, lower, parting)
            fits = fits * (half / _USUAL[0]) ** _WIDER
            for value, usual, counts in zip(
                (half, middle, down, slope), _USUAL, _USUAL_COUNTS, strict=True
            ):
                fits = fits - counts * (value - usual) ** 2
            one = int(fits.argmax())
            if fits[one] > found[0]:
                arches = combined.arches(int(which[one]), upper[one], lower[one])
                template = _Template(
                    half=half,
                    middle=middle,
                    down=float(down[one]),
                    slope=float(slope[one]),
                    arches=arches,
                    opened=int(which[one]) >= len(tried.arches[1]),
                )
                found = float(fits[one]), template
    fit, best = found
    assert best is not None
    return fit, best


@dataclass(frozen=True, kw_only=True)
class _Combined:
    """Which arches of four curves go together: lips have a thickness, and open ones are apart."""

    bent: tuple[Doubles, ...]

    @classmethod
    def of(cls, bent: tuple[Doubles, ...]) -> _Combined:
        return cls(bent=bent)

    def fits(
        self, upper: Floats, over: Floats, under: Floats, lower: Floats, parting: Floats
    ) -> tuple[Floats, npt.NDArray[np.int64]]:
        """The best fit of each row, and which inner curves have it: closed ones first."""
        a, b, c, d = self.bent
        above = _where(a[None] - b[:, None], _UPPER_LIP, upper)
        closed = parting + above + _where(b[:, None] - d[None], _LOWER_LIP, lower)
        below = _where(c[:, None] - d[None], _LOWER_LIP, lower)
        opened = (_OPENING_COUNTS * over + above)[:, :, None]
        opened = opened + (_OPENING_COUNTS * under + below)[:, None]
        opened = np.where(b[:, None] - c[None] > _OPEN, opened, -np.inf)
        both = np.concatenate((closed, opened.reshape(len(upper), -1)), axis=1)
        return both.max(axis=1), both.argmax(axis=1)

    def arches(self, which: int, upper: Floats, lower: Floats) -> tuple[float, ...]:
        """All four of one template."""
        a, b, c, d = self.bent
        if which < len(b):
            over = under = float(b[which])
        else:
            one, two = divmod(which - len(b), len(c))
            over, under = float(b[one]), float(c[two])
        high = int(np.where(_inside(a - over, _UPPER_LIP), upper, -np.inf).argmax())
        low = int(np.where(_inside(under - d, _LOWER_LIP), lower, -np.inf).argmax())
        return float(a[high]), over, under, float(d[low])


def _inside(thick: Doubles, ends: tuple[float, float]) -> npt.NDArray[np.bool_]:
    return (thick > ends[0]) & (thick < ends[1])


def _where(thick: Doubles, ends: tuple[float, float], seen: Floats) -> Floats:
    """The best outer curve for each inner one: (rows, inner ones)."""
    return np.where(_inside(thick, ends), seen[:, None], np.float32(-np.inf)).max(axis=2)


def _rows(down: Doubles) -> npt.NDArray[np.int64]:
    most = round((_DOWN[1] - _DOWN[0]) / _STEP)
    return np.clip(np.rint((down - _DOWN[0]) / _STEP).astype(np.int64), 0, most)


def _settled(frame: FaceFrame, sights: MouthSights, best: _Template) -> Mouth:
    """The curves where each is seen best."""
    share = np.linspace(-1, 1, _DRAWN)
    across = best.middle + share * best.half
    upper, over, under, lower = (
        best.down + best.slope * share - bent * (1 - share**2) for bent in best.arches
    )
    edges = sights.edges
    curves = [
        _nearby(across, down, seen) for down, seen in ((upper, edges.upper), (lower, edges.lower))
    ]
    outer = [down if seen > _LEAST_SEEN else None for down, seen in curves]
    if best.opened:
        inner = [
            _nearby(across, down, seen)[0]
            for down, seen in ((over, edges.over), (under, edges.under))
        ]
        if (inner[1] - inner[0]).mean() < _OPEN / 2:
            inner = [(inner[0] + inner[1]) / 2]
    else:
        inner = [_nearby(across, over, sights.parting)[0]]
    return Mouth(frame=frame, across=across, outer=(outer[0], outer[1]), inner=tuple(inner))


def _nearby(across: Doubles, down: Doubles, seen: Floats) -> tuple[Doubles, float]:
    """A curve where it is seen best, a few steps from where it was, and how well."""
    steps = np.arange(-_REACH, _REACH + 1)
    # Corners stay where they are.
    allowed = np.abs(steps[:, None]) <= np.minimum(np.arange(_DRAWN), np.arange(_DRAWN)[::-1])
    places = down + _FINE * steps[:, None]
    x = np.broadcast_to((across - _ACROSS[0]) / _STEP, places.shape).astype(np.float32)
    values = between_pixels(seen, x, ((places - _DOWN[0]) / _STEP).astype(np.float32))
    # All columns are worth something, so that the curve goes from end to end.
    worth = np.where(allowed, values + 10, np.float32(-1e4)).astype(np.float32)
    band = best_band(worth[:, :, None], Bending(rows=1, kinds=0, of_row=_BENDS))
    way = down + fair(_FINE * steps[band.first], _FAIR, held=True)
    return way, float(values[band.first, band.columns].mean())
