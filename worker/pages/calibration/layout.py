"""The layout of a test page, in millimetres from the page's top left.

The two bars and the staircases are placed first, since they are measured; words and samples
take the space between them. 200 mm on A4 leave 5 mm at either end of a bar, where some printers
print nothing, so each bar has a second, ringed pair of ticks at three quarters of its length.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

from worker.layout.measuring.printer_readings import INNER_SHARE, LAST_STEP_MM, Bars, bars_of
from worker.spec.formats import SheetFormat
from worker.spec.plan import Edge, Rect
from worker.words.catalogue import Words, words_for
from worker.words.languages import DEFAULT

#: How far a step reaches from its outer side inwards.
STEP_DEEP_MM: Final = 1.0
#: What stays blank between two steps.
_STEP_GAP_MM = 0.5
#: From the edge to where the staircase's innermost number ends.
_STAIRS_DEEP_MM = 24.0
#: Half of an end tick, and what stays free around a bar.
TICK_MM: Final = 3.5
_AROUND_BAR_MM = 4.5
#: Where the bars must cross, the one across keeps this clear of the other's ring.
_CROSSED_MM = 7.0
#: And begins so far from the left, where its own ticks keep clear of the other bar.
_CROSSED_FROM_MM = 6.0
#: Head and words take so much of an A4 sheet, and the form at most this share of any.
_WORDS_MM, _FORM_SHARE = 84.0, 0.4
#: Printers leave at most 18 mm blank at the foot (common practice) and less at the sides.
_QUIET_MM = 15.0


@dataclass(frozen=True, kw_only=True)
class CalibrationLayout:
    """The places on the test page of one sheet format, and its language."""

    sheet: SheetFormat
    language: str = DEFAULT

    @property
    def words(self) -> Words:
        """The texts of the page."""
        return words_for(self.language)

    @cached_property
    def bars(self) -> Bars:
        """How long the bars are."""
        return bars_of(self.sheet)

    @cached_property
    def scale(self) -> float:
        """How large type is on this sheet, 1 on A4."""
        return max(0.62, min(1.35, self.sheet.width_mm / 210, self.sheet.height_mm / 279.4))

    @cached_property
    def across_mm(self) -> float:
        """Distance of the bar across from the top of the page."""
        return self._lowest - (_CROSSED_MM if self._crossed else 0.0)

    @cached_property
    def down_mm(self) -> float:
        """Distance of the bar down from the left of the page."""
        return self.sheet.width_mm - _STAIRS_DEEP_MM - TICK_MM - 3.5

    def ends(self, *, down: bool, inner: bool = False) -> tuple[float, float]:
        """Where a bar's ticks are, along the page; their middles are what is measured."""
        whole = self.bars.down_mm if down else self.bars.across_mm
        start = self._down_start if down else self._across_start
        length = whole * (INNER_SHARE if inner else 1.0)
        return start + (whole - length) / 2, start + (whole + length) / 2

    @property
    def _across_start(self) -> float:
        """In the middle; where the bars cross, further left, so that no tick is near the other."""
        if self._crossed:
            return _CROSSED_FROM_MM
        return (self.sheet.width_mm - self.bars.across_mm) / 2

    @property
    def _down_start(self) -> float:
        """Above the bar across where there is room, and across it where there is none."""
        if self._crossed:
            return (self.sheet.height_mm - self.bars.down_mm) / 2
        return min(30.0, self._lowest - 2 * TICK_MM - self.bars.down_mm)

    @property
    def _crossed(self) -> bool:
        """Whether the bar down is too long to end above the bar across."""
        return self._lowest - 2 * TICK_MM < self.bars.down_mm

    @property
    def _lowest(self) -> float:
        """How far down the bar across can lie, above the staircase."""
        return self.sheet.height_mm - _STAIRS_DEEP_MM - TICK_MM - 3.0

    @cached_property
    def step_wide_mm(self) -> float:
        """How much of an edge one step takes."""
        return 3.0 * max(1.0, self.scale)

    @cached_property
    def stairs_mm(self) -> float:
        """How much of an edge a staircase takes."""
        return self.step_wide_mm * (LAST_STEP_MM + 1)

    def step(self, edge: Edge, number: int) -> Rect:
        """The block that begins so many millimetres from an edge."""
        along = self._stairs_start(edge) + number * self.step_wide_mm
        wide = self.step_wide_mm - _STEP_GAP_MM
        far_x = self.sheet.width_mm - number - STEP_DEEP_MM
        far_y = self.sheet.height_mm - number - STEP_DEEP_MM
        return {
            "top": Rect(along, number, wide, STEP_DEEP_MM),
            "bottom": Rect(along, far_y, wide, STEP_DEEP_MM),
            "left": Rect(number, along, STEP_DEEP_MM, wide),
            "right": Rect(far_x, along, STEP_DEEP_MM, wide),
        }[edge]

    def _stairs_start(self, edge: Edge) -> float:
        if edge in {"top", "bottom"}:
            return (self.sheet.width_mm - self.stairs_mm) / 2
        return self.form.top + (self.form.height - self.stairs_mm) / 2

    @cached_property
    def samples(self) -> Rect:
        """Line weights and grey steps, above the bar across."""
        high = 33.0 * self.scale
        bottom = self.across_mm - TICK_MM - _AROUND_BAR_MM
        return Rect(_QUIET_MM, bottom - high, self._right - _QUIET_MM, high)

    @cached_property
    def form(self) -> Rect:
        """Where readings are written down, between the staircases at the sides."""
        left, bottom = _STAIRS_DEEP_MM + 2.0, self.samples.top - 5.0 * self.scale
        room = bottom - left - _WORDS_MM * self.scale
        high = max(self.stairs_mm + 2.0, min(room, _FORM_SHARE * self.sheet.height_mm))
        return Rect(left, bottom - high, self._right - left, high)

    @cached_property
    def steps(self) -> Rect:
        """What to do, from the staircase at the top to the form."""
        top = _STAIRS_DEEP_MM + 2.0
        bottom = self.form.top - 3.0 * self.scale
        return Rect(_QUIET_MM, top, self._right - _QUIET_MM, bottom - top)

    @property
    def _right(self) -> float:
        """Words and samples end here, left of the bar down and what is written beside it."""
        return self.down_mm - TICK_MM - _AROUND_BAR_MM
