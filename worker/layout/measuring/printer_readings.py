"""Readings of a printed test page, and the corrections and margins that follow from them.

A test page has a bar across, a bar down, and on every edge a staircase that shows from which
millimetre on the printer prints. A correction is nominal ÷ measured. Printers often err by
different amounts across and down (paper slips one way, optics err the other), so each way has
its own. An engine's own error is under two percent; a larger one is page fitting (both common
practice). Page fitting is named, so that it can be switched off, and never compensated, since
the next print may be fitted differently. What `allowances` lets a length be off counts as true:
it is more than the error of reading, which correcting less would print.

Each bar has a second, ringed pair of ticks at three quarters of its length, for printers that
do not print its ends. Which pair was measured follows from the reading, since no page fitting
is near three quarters.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from worker.errors import PageFitting, ReadingImplausible
from worker.layout.measuring.allowances import READING_ERROR_MM, Allowances
from worker.spec.formats import SheetFormat
from worker.spec.plan import Edge
from worker.spec.spec import Margins
from worker.units import MM_PER_INCH

Verdict = Literal["exact", "corrected", "page-fitting", "implausible"]

#: An engine's own error; the contract bounds corrections by the same figure.
ENGINE_ERROR: Final = 0.02
#: The inner pair of ticks, in shares of the bar, for printers that cut off its ends. No
#: page fitting is near it: sheets shrink to 94–97 %, and two on one to 71 %.
INNER_SHARE: Final = 0.75
#: Page fitting shrinks or enlarges at most so far.
_FITTED: Final = (0.6, 1.5)
#: The longest bar, what it is a multiple of, and what stays free beyond each of its ends.
_LONGEST_MM, _STEP_MM = 200.0, 20.0
_LONGEST_IN: Final = 8
_FREE_MM = 5.0
#: What halves and inches lose in binary.
_ROUNDING_MM = 1e-6
#: The staircase's last step, in mm from the edge.
LAST_STEP_MM: Final = 20
#: A printer is measured for all packs, so the usual allowance decides.
_ALLOWED: Final = Allowances()
_ACTUAL_SIZE = (
    "Print it again at “actual size” or “100 %”, with “fit to page”, “shrink” and “borderless” "
    "switched off"
)
#: By what a reading was multiplied that was given in a unit other than its own.
_SLIPS: Final = (
    (MM_PER_INCH, "did you read inches?"),
    (10.0, "did you read centimetres?"),
    (1 / MM_PER_INCH, "did you read millimetres, and say inches?"),
    (0.1, "did you read millimetres, and say centimetres?"),
)


@dataclass(frozen=True, kw_only=True)
class Bars:
    """How long the bars of one sheet format are, between their outer ticks."""

    across_mm: float
    down_mm: float


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What one bar measured, and what that means.

    Attributes:
        nominal_mm: Between the ticks that were measured, the outer or the inner ones.
        correction: What lengths are multiplied by; None where the reading cannot be used.
        uncertainty: By how much the correction may be wrong, from the reading alone; None
            where there is none.
        advice: What it means, and what to do, in one or two sentences.
    """

    measured_mm: float
    nominal_mm: float
    correction: float | None
    uncertainty: float | None
    verdict: Verdict
    advice: str


def bars_of(sheet: SheetFormat) -> Bars:
    """The bars that a sheet has room for: 200 mm (8 in), or what fits."""
    return Bars(
        across_mm=_bar_mm(sheet.width_mm, inches=sheet.inches),
        down_mm=_bar_mm(sheet.height_mm, inches=sheet.inches),
    )


def _bar_mm(side_mm: float, *, inches: bool) -> float:
    room_mm = side_mm - 2 * _FREE_MM
    if inches:
        return min(_LONGEST_IN, room_mm // MM_PER_INCH) * MM_PER_INCH
    return min(_LONGEST_MM, room_mm // _STEP_MM * _STEP_MM)


def judge(measured_mm: float, bar_mm: float) -> Reading:
    """What a reading of a bar means.

    Args:
        measured_mm: Between its outer or its inner ticks; positive.
        bar_mm: Between its outer ticks, as it should be.
    """
    for nominal_mm in (bar_mm, bar_mm * INNER_SHARE):
        if abs(measured_mm - nominal_mm) <= nominal_mm * ENGINE_ERROR + _ROUNDING_MM:
            return _usable(measured_mm, nominal_mm)
    low, high = _FITTED
    fitted = low <= measured_mm / bar_mm <= high
    # Fitting shrinks, so what is shorter than the inner bar was read between its ticks.
    inner = fitted and measured_mm < bar_mm * INNER_SHARE
    nominal_mm = bar_mm * INNER_SHARE if inner else bar_mm
    return Reading(
        measured_mm=measured_mm,
        nominal_mm=nominal_mm,
        correction=None,
        uncertainty=None,
        verdict="page-fitting" if fitted else "implausible",
        advice=_fitting(measured_mm / nominal_mm) if fitted else _slip(measured_mm, bar_mm),
    )


def _usable(measured_mm: float, nominal_mm: float) -> Reading:
    """A reading within an engine's own error."""
    exact = abs(measured_mm - nominal_mm) <= _ALLOWED.off_mm(nominal_mm) + _ROUNDING_MM
    correction = 1.0 if exact else round(nominal_mm / measured_mm, 6)
    return Reading(
        measured_mm=measured_mm,
        nominal_mm=nominal_mm,
        correction=correction,
        uncertainty=round(READING_ERROR_MM * nominal_mm / measured_mm**2, 6),
        verdict="exact" if exact else "corrected",
        advice=_exact(nominal_mm) if exact else _corrected(measured_mm, nominal_mm, correction),
    )


def _exact(nominal_mm: float) -> str:
    return (
        f"True within {_ALLOWED.off_mm(nominal_mm):.1f} mm on {nominal_mm:.0f} mm, which is what a "
        "joined picture allows: nothing is corrected."
    )


def _corrected(measured_mm: float, nominal_mm: float, correction: float) -> str:
    off = measured_mm / nominal_mm - 1
    way = "long" if off > 0 else "short"
    return (
        f"The printer prints {abs(off) * 100:.2f} % too {way}: lengths are multiplied by "
        f"{correction:.4f}."
    )


def _fitting(share: float) -> str:
    what = (
        "that is page fitting, which typically shrinks to 94–97 %"
        if share < 1
        else "that is page fitting, or borderless printing, which enlarges"
    )
    if abs(share - (1 + INNER_SHARE) / 2) <= ENGINE_ERROR:
        what += ", or it was read from an end to a ring"
    return (
        f"It measures {share * 100:.1f} % of its length; {what}. No printer is off by more than "
        f"2 %. {_ACTUAL_SIZE}, and measure anew: this is not corrected."
    )


def _slip(measured_mm: float, bar_mm: float) -> str:
    """A slip of the unit where one explains the reading."""
    low, high = _FITTED
    for factor, question in _SLIPS:
        if low <= measured_mm * factor / bar_mm <= high:
            return f"{measured_mm:.4g} mm cannot be this bar of {bar_mm:.4g} mm: {question}"
    return (
        f"{measured_mm:.4g} mm cannot be this bar of {bar_mm:.4g} mm: was it the other bar, "
        "another sheet format, or a slip?"
    )


def usable_correction(reading: Reading | None, field: str) -> float:
    """The correction of a reading; 1 where nothing was measured.

    Raises:
        PageFitting: The page was printed scaled.
        ReadingImplausible: No printer does this.
    """
    if reading is None:
        return 1.0
    if reading.correction is None:
        kind = PageFitting if reading.verdict == "page-fitting" else ReadingImplausible
        raise kind(reading.advice, field=field)
    return reading.correction


def margins_of_steps(steps: Mapping[Edge, float]) -> Margins:
    """What the printer cannot print, from the first step that it prints whole on each edge.

    A step begins as many millimetres from the edge as its number says, so that number is the
    margin: at most a step's thickness more than the true one, never less.

    Raises:
        ReadingImplausible: The staircase has no such step.
    """
    for edge, step in steps.items():
        if step not in range(LAST_STEP_MM + 1):
            message = (
                f"The staircase has steps 0 to {LAST_STEP_MM}, not {step:g}. If none is whole, "
                "measure from the paper’s edge to where printing begins, and give that as margin."
            )
            raise ReadingImplausible(message, field=f"margin_mm.{edge}")
    return Margins(**{edge: float(step) for edge, step in steps.items()})
