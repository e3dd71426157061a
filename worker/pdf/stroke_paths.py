"""Strokes as PDF path operators, in whole hundredths of a millimetre of the picture.

A stroke has the same numbers on every sheet that it crosses; only the matrix before them
differs, and the edge of the piece clips them. So two sheets cannot disagree about where a line
crosses their seam, and no line cap is drawn at a cut. Whole numbers are also short: 60 × 40 cm
of lines take some 200 kB, and no sheet can show less than a hundredth of a millimetre. With a
printer's correction, places are corrected and line weights are not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from worker.spec.plan import Rect
from worker.spec.strokes import (
    DASH_GAP_MM,
    DASH_MM,
    DASHED,
    FORM,
    INNER,
    PLAIN,
    Strokes,
    line_widths_mm,
)

#: Numbers of the paths for a millimetre of the picture.
UNITS_PER_MM = 100
#: The same for a millimetre of the page, where lines are shown at a small scale.
SMALL_UNITS_PER_MM = 50
#: A curve that goes no further than this looks straight.
_SEEN_BENT_MM = 0.6
#: Points this close on a curve leave out no part of it that anyone would trace.
_CLOSE_MM = 0.25
_WEIGHTS = (INNER, PLAIN, FORM, DASHED)

_Numbers = npt.NDArray[np.int32]
_Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class LineWork:
    """All strokes of a picture, ready to be drawn on any sheet.

    Attributes:
        strokes: What `worker.picture.outline.find_strokes` returned.
        line_mm: Weight of a plain stroke, a step of ISO 9175-1.
    """

    strokes: Strokes
    line_mm: float

    @cached_property
    def numbers(self) -> _Numbers:
        """Start, handles and end of each curve in hundredths of a millimetre; (curves, 8)."""
        rounded = np.rint(self.strokes.curves_mm.reshape(-1, 8) * UNITS_PER_MM)
        return np.asarray(rounded, np.int32)

    @cached_property
    def boxes(self) -> _Numbers:
        """Left, top, right and bottom of each stroke in the same; (strokes, 4).

        A Bézier curve lies within the hull of its four points.
        """
        curves, starts = self.numbers, self.strokes.first[:-1]
        low = np.minimum.reduceat(curves, starts).reshape(-1, 4, 2).min(axis=1)
        high = np.maximum.reduceat(curves, starts).reshape(-1, 4, 2).max(axis=1)
        return np.concatenate((low, high), axis=1)

    def paths(self, area_mm: Rect) -> Iterator[tuple[float, str]]:
        """For each weight that has strokes meeting an area: its width in mm, and the paths.

        Light strokes come first, so that heavy ones lie on them.
        """
        if not len(self.strokes):
            return
        widths = line_widths_mm(self.line_mm)
        for weight, width_mm in zip(_WEIGHTS, widths, strict=True):
            chosen = self._meeting(area_mm, width_mm) & (self.strokes.weight == weight)
            if chosen.any():
                paths = self._operators(chosen, self.numbers)
                yield width_mm, _dashed(paths) if weight == DASHED else paths

    def reaches(self, area_mm: Rect) -> bool:
        """Whether the middle line of any stroke passes through an area."""
        sides = np.array([area_mm.left, area_mm.top, area_mm.right, area_mm.bottom]) * UNITS_PER_MM
        points = self.numbers.reshape(-1, 4, 2)
        if _any_inside(points[:, ::3], sides):
            return True
        low, high = points.min(axis=1), points.max(axis=1)
        near = ((high >= sides[:2]) & (low <= sides[2:])).all(axis=1)
        return _any_inside(_along(points[near]), sides)

    def reduced_paths(self, scale: float, most: int) -> Iterator[tuple[int, str]]:
        """For each weight its paths at a small scale, from the page's top left of the picture.

        What is too short to be seen bent becomes straight, and of many strokes the shortest
        are left out: a map only shows what the picture is of.

        Args:
            scale: Millimetres of the page for one of the picture.
            most: Curves in all, about.
        """
        if not len(self.strokes):
            return
        ends = np.rint(self.strokes.curves_mm * (scale * SMALL_UNITS_PER_MM)).astype(np.int32)
        numbers = ends.reshape(-1, 8)
        bent = _reach(numbers) > _SEEN_BENT_MM * SMALL_UNITS_PER_MM
        shown = self._longest(most)
        for weight in _WEIGHTS:
            chosen = shown & (self.strokes.weight == weight)
            if chosen.any():
                yield weight, self._operators(chosen, numbers, bent)

    def of_longest(self, most: int) -> Strokes:
        """The longest strokes alone, of so many curves in all, about."""
        shown, counts = self._longest(most), np.diff(self.strokes.first)
        return Strokes(
            curves_mm=self.strokes.curves_mm[np.repeat(shown, counts)],
            first=np.concatenate([[0], np.cumsum(counts[shown])]).astype(np.int32),
            weight=self.strokes.weight[shown],
            length_mm=self.strokes.length_mm[shown],
        )

    def _longest(self, most: int) -> _Flags:
        """Strokes of so many curves in all, the longest ones; form lines count double."""
        counts = np.diff(self.strokes.first)
        rank = self.strokes.length_mm * np.where(self.strokes.weight == FORM, 2.0, 1.0)
        order = np.argsort(-rank, kind="stable")
        shown = np.zeros(len(counts), bool)
        shown[order[np.cumsum(counts[order]) <= most]] = True
        return shown

    def _meeting(self, area_mm: Rect, width_mm: float) -> _Flags:
        """Which strokes reach into an area, with half of their width."""
        sides = np.array([area_mm.left, area_mm.top, area_mm.right, area_mm.bottom]) * UNITS_PER_MM
        reach = width_mm / 2 * UNITS_PER_MM
        left, top, right, bottom = self.boxes.T
        inside_x = (right + reach > sides[0]) & (left - reach < sides[2])
        return np.asarray(inside_x & (bottom + reach > sides[1]) & (top - reach < sides[3]))

    def _operators(self, chosen: _Flags, numbers: _Numbers, bent: _Flags | None = None) -> str:
        """Each stroke as a path of its own, stroked: printers limit how long a path may be.

        Args:
            chosen: Of the strokes.
            numbers: Of all curves.
            bent: Of all curves, which are drawn as such; the others are drawn straight.
        """
        first = self.strokes.first
        curves = np.repeat(chosen, np.diff(first))
        starts = np.zeros(len(numbers), bool)
        starts[first[:-1]] = True
        numbers = numbers[curves]
        written = [f"{a} {b} {c} {d} {e} {f} c" for a, b, c, d, e, f in numbers[:, 2:].tolist()]
        if bent is not None:
            for place in np.flatnonzero(~bent[curves]).tolist():
                written[place] = f"{numbers[place, 6]} {numbers[place, 7]} l"
        for place in np.flatnonzero(starts[curves]).tolist():
            x, y = numbers[place, :2].tolist()
            written[place] = f"{'S ' if place else ''}{x} {y} m {written[place]}"
        return "\n".join((*written, "S"))


def _any_inside(points: npt.NDArray[np.int32 | np.float64], sides: npt.NDArray[np.float64]) -> bool:
    """Whether any point (…, 2) lies between left and right, top and bottom."""
    return bool(((points >= sides[:2]) & (points <= sides[2:])).all(axis=-1).any())


def _along(curves: _Numbers) -> npt.NDArray[np.float64]:
    """Points on Bézier curves (curves, 4, 2), close enough together; (curves, points, 2)."""
    reach = _reach(curves).max(initial=0)
    t = np.linspace(0.0, 1.0, int(reach / (_CLOSE_MM * UNITS_PER_MM)) + 2)
    # Bernstein's polynomials of the third degree.
    weights = np.stack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3], axis=1)
    return np.asarray(np.einsum("pk,ckx->cpx", weights, curves))


def _dashed(paths: str) -> str:
    """Paths in dashes, which begin with each path (ISO 32000-1, 8.4.3.6), then whole lines again.

    A stroke is one path on every sheet, clipped by the piece: its dashes meet across seams.
    """
    dash, gap = DASH_MM * UNITS_PER_MM, DASH_GAP_MM * UNITS_PER_MM
    return f"[{dash:g} {gap:g}] 0 d\n{paths}\n[] 0 d"


def _reach(numbers: _Numbers) -> npt.NDArray[np.int32]:
    """How far a curve goes at the most, either way; (curves,)."""
    points = numbers.reshape(-1, 4, 2)
    return np.asarray((points.max(axis=1) - points.min(axis=1)).max(axis=1))
