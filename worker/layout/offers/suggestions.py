"""Small changes of the spec that would save sheets.

A margin half a millimetre wider than the printer needs, or a correction of what may be off
anyway, can cost a whole row of sheets. The plan names every small change that takes fewer
sheets, and how many. Counting sheets takes microseconds, so every plan does it. Seams are
searched only where areas are protected, since those may need additional sheets.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from worker.errors import SpecError
from worker.layout.crop.crop import resolve_crop
from worker.layout.measuring.allowances import Allowances
from worker.layout.page_area import page_area
from worker.layout.seams.candidates import fewest_sheets
from worker.layout.seams.cost_map import CostMap
from worker.layout.seams.cutting_problem import counting_problem, cutting_problem
from worker.layout.seams.search import best_partition
from worker.spec.formats import doubled_format, sheet_format
from worker.spec.plan import Change, Suggestion
from worker.spec.spec import Margins, Spec

#: Margins are made narrower by at most this much, to what most printers can print (common
#: practice), in steps of a tenth of a millimetre.
_NARROWER_MM, _LEAST_MARGIN_MM, _STEPS_PER_MM = 1.0, 3.0, 10
#: A side is made shorter by at most this share, in whole millimetres: supports themselves are
#: seldom truer, and a crop of the same proportions is still taken.
_SHORTER = 0.01
#: The length that a correction is read from (the bars of the test page).
_READ_MM = 200.0


@dataclass(frozen=True, kw_only=True)
class PlannedSpec:
    """A spec, and how many sheets its plan takes.

    Attributes:
        spec: The spec.
        photo_px: Width and height of the reference, in pixels.
        cost_map: What a seam costs at each place of the picture.
        sheets: How many sheets the plan takes.
        most: The most sheets that one pack may have.
    """

    spec: Spec
    photo_px: tuple[int, int]
    cost_map: CostMap
    sheets: int
    most: int


def suggestions(planned: PlannedSpec) -> tuple[Suggestion, ...]:
    """Every small change that saves sheets, each by itself, the least intrusive first."""
    found = []
    for change in _changes(planned):
        sheets = sheets_with(planned, change)
        if sheets is not None and sheets < planned.sheets:
            detail = _detail(planned, change, sheets)
            found.append(
                Suggestion(code="fewer-sheets", change=change, sheet_count=sheets, detail=detail)
            )
    return tuple(found)


def changed(spec: Spec, change: Change) -> Spec:
    """The spec with a change made."""
    support, sheet, seams, print_ = spec.support, spec.sheet, spec.seams, spec.print
    if change.margin_mm is not None:
        mm = change.margin_mm
        sheet = replace(sheet, margin_mm=Margins(top=mm, right=mm, bottom=mm, left=mm))
    return replace(
        spec,
        support=replace(
            support,
            width_mm=change.width_mm or support.width_mm,
            height_mm=change.height_mm or support.height_mm,
        ),
        sheet=replace(sheet, format=change.format or sheet.format),
        seams=replace(
            seams,
            arrangement=change.arrangement or seams.arrangement,
            protect=(*seams.protect, *(change.protect or ())),
        ),
        print=replace(
            print_,
            across_correction=change.across_correction or print_.across_correction,
            down_correction=change.down_correction or print_.down_correction,
        ),
    )


def sheets_with(planned: PlannedSpec, change: Change) -> int | None:
    """How many sheets the changed spec takes; None where it is invalid, or is not counted.

    Protected areas may take up to two sheets more than the fewest, so seams are searched there.
    Staggered seams are not, which takes too long for a plan that follows a finger; nor are
    seams of a picture with another size, for which there is no detail map at hand.
    """
    spec = changed(planned.spec, change)
    try:
        resolve_crop(spec, *planned.photo_px)
        page = page_area(spec.sheet, spec.print)
        lap_mm = spec.seams.lap_mm if spec.seams.joint == "lap" else 0.0
        staggered = spec.seams.arrangement == "staggered"
        if not planned.cost_map.protected:
            width_mm, height_mm = spec.support.picture_width_mm, spec.support.picture_height_mm
            counting = counting_problem((width_mm, height_mm), page, lap_mm=lap_mm)
            return fewest_sheets(counting, staggered=staggered)
        if staggered or spec.support != planned.spec.support:
            return None
        quiet = spec.seams.placement == "quiet"
        problem = cutting_problem(planned.cost_map, page, lap_mm=lap_mm, quiet=quiet)
        return best_partition(problem, staggered=False, max_sheets=planned.most).partition.sheets
    except SpecError:
        return None


def _changes(planned: PlannedSpec) -> Iterator[Change]:
    """What might save sheets, the least intrusive first."""
    spec = planned.spec
    slip = _slips(spec)
    if slip is not None:
        yield slip
    yield from _least(planned, _margins(spec))
    yield from _least(planned, _sides(spec, spec.support.width_mm, _width))
    yield from _least(planned, _sides(spec, spec.support.height_mm, _height))
    if spec.seams.arrangement == "aligned":
        yield Change(arrangement="staggered")
    larger = doubled_format(sheet_format(spec.sheet.format))
    if larger is not None and planned.sheets > 1:
        yield Change(format=larger.name)


def _slips(spec: Spec) -> Change | None:
    """Corrections of no more than a length may be off, which correct nothing, left away."""
    allowed_mm = Allowances(within_mm=spec.seams.within_mm).off_mm(_READ_MM)
    across, down = (
        1.0 if 0 < abs(correction - 1) * _READ_MM <= allowed_mm else None
        for correction in (spec.print.across_correction, spec.print.down_correction)
    )
    if across is None and down is None:
        return None
    return Change(across_correction=across, down_correction=down)


def _margins(spec: Spec) -> list[Change]:
    """All four margins alike, from the widest on down."""
    own = spec.sheet.margin_mm
    widest = max(own.top, own.right, own.bottom, own.left)
    least = max(widest - _NARROWER_MM, _LEAST_MARGIN_MM)
    first = math.ceil(widest * _STEPS_PER_MM - 1e-6) - 1
    last = math.ceil(least * _STEPS_PER_MM - 1e-6)
    return [Change(margin_mm=step / _STEPS_PER_MM) for step in range(first, last - 1, -1)]


def _sides(spec: Spec, side_mm: float, of: Callable[[Spec, float], Change]) -> list[Change]:
    """One side shorter, from the longest on down."""
    first, last = math.ceil(side_mm) - 1, math.ceil(side_mm * (1 - _SHORTER))
    return [of(spec, float(mm)) for mm in range(first, last - 1, -1)]


def _width(spec: Spec, mm: float) -> Change:
    return Change(width_mm=mm, height_mm=spec.support.height_mm)


def _height(spec: Spec, mm: float) -> Change:
    return Change(width_mm=spec.support.width_mm, height_mm=mm)


def _least(planned: PlannedSpec, steps: list[Change]) -> Iterable[Change]:
    """Of changes that go further and further, the first that saves as much as the last.

    Sheets never grow from step to step, so it is found by halving. What goes too far for the
    crop stands at the end.
    """
    best = None
    while steps and (best := sheets_with(planned, steps[-1])) is None:
        steps = steps[:-1]
    if best is None or best >= planned.sheets:
        return []
    low, high = 0, len(steps) - 1
    while low < high:
        middle = (low + high) // 2
        there = sheets_with(planned, steps[middle])
        if there is not None and there <= best:
            high = middle
        else:
            low = middle + 1
    return [steps[low]]


def _detail(planned: PlannedSpec, change: Change, sheets: int) -> str:
    """The change in words."""
    count = f"{sheets} sheet{'' if sheets == 1 else 's'}"
    return f"{_named(planned.spec, change)} would take {count} instead of {planned.sheets}."


def _named(spec: Spec, change: Change) -> str:
    if change.format is not None:
        return sheet_format(change.format).title
    if change.margin_mm is not None:
        return f"Margins of {change.margin_mm:g} mm"
    if change.arrangement is not None:
        return "Staggered seams"
    support = spec.support
    if change.width_mm is not None and change.width_mm != support.width_mm:
        return f"A width of {change.width_mm:g} mm, not {support.width_mm:g},"
    if change.height_mm is not None:
        return f"A height of {change.height_mm:g} mm, not {support.height_mm:g},"
    return "No correction (yours is no more than a sheet may be off)"
