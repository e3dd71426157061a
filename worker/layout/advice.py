"""What a person should know before printing: sharpness, ink, and what could go wrong."""

from __future__ import annotations

import math
from dataclasses import dataclass

from worker.layout.seams.cutting_problem import SHORTEST_PIECE_MM
from worker.spec.plan import PlanWarning, Resolution
from worker.spec.spec import Print
from worker.spec.study import PEN_MM
from worker.units import MM_PER_INCH, ppi

#: One minute of arc, what a healthy eye resolves, at 30 cm.
EYE_MM = 300.0 * math.tan(math.radians(1 / 60))
#: Fewer printed pixels than this show their squares on paper (common practice), so coarse
#: references are resampled up to it.
LEAST_PRINTED_PPI = 120.0
#: Above this share of ink a page is mostly dark, slow to dry and dear (common practice).
MUCH_INK = 0.6
#: Lines this coarse lose features of a face the size of a hand.
COARSE_MM = 2 * PEN_MM
#: Blur below so many pixels says too little about a photo to be mentioned.
BLURRED_PX = 1.5
#: So many pixels are printed for one that the photo resolves: an estimate that is as much too low
#: then costs no detail.
_PRINTED_PER_RESOLVED = 1.5
#: A pack this long deserves a word before it is printed.
MANY_SHEETS = 60


def resolution(
    crop_width_px: float,
    picture_width_mm: float,
    print_: Print,
    *,
    drawn: bool = False,
    resolved_px: float = 1.0,
) -> Resolution:
    """What the reference can give at this size, and what is printed of it.

    What is drawn, lines and flat tones, is as fine as may be printed, however small the photo.

    The finest line is two pixels: a line and its gap (sampling theorem, Shannon 1949). They
    are pixels that the photo resolves or those of the print, whichever are larger: a print cannot
    show more than it is printed with.

    Args:
        crop_width_px: Width of the crop in pixels of the reference.
        picture_width_mm: Width of the picture.
        print_: What the spec allows.
        drawn: Whether lines and flat tones are printed, not the photo.
        resolved_px: The study's.
    """
    reference_ppi = ppi(crop_width_px, picture_width_mm)
    resolved_ppi = reference_ppi / resolved_px
    useful_ppi = min(reference_ppi, _PRINTED_PER_RESOLVED * resolved_ppi)
    photo_ppi = math.inf if drawn else max(useful_ppi, LEAST_PRINTED_PPI)
    printed_ppi = min(print_.resolution_ppi, photo_ppi)
    finest_mm = 2 * MM_PER_INCH / min(resolved_ppi, printed_ppi)
    return Resolution(
        reference_ppi=reference_ppi,
        resolved_ppi=resolved_ppi,
        printed_ppi=printed_ppi,
        finest_line_mm=finest_mm,
        advice=_advice(finest_mm),
    )


def blurred(resolved_px: float, resolved_ppi: float) -> bool:
    """Whether a sharper photo would show more than this one, which has pixels that it cannot fill.

    Where lines are as fine as a pen all the same, nobody need look for another photo.

    Args:
        resolved_px: The study's.
        resolved_ppi: Pixels per inch that the photo can fill.
    """
    return resolved_px >= BLURRED_PX and 2 * MM_PER_INCH / resolved_ppi > PEN_MM


def holds(width_px: int, height_px: int, resolved_px: float) -> str:
    """What a blurred photo is worth, as its size in pixels that it resolves."""
    width, height = (_rounded(side / resolved_px) for side in (width_px, height_px))
    return (
        "This photo was enlarged before or is not in focus: it holds about as much as one of "
        f"{width} × {height} pixels. The original, or a sharper photo, shows more."
    )


def _rounded(pixels: float) -> int:
    """To two digits; more are not known."""
    return int(round(pixels, 1 - math.floor(math.log10(pixels))))


def _advice(finest_mm: float) -> str:
    if finest_mm <= 2 * EYE_MM:
        return (
            f"As sharp as the eye can use: lines down to {finest_mm:.2f} mm, which at 30 cm is the "
            "finest that an eye tells apart."
        )
    if finest_mm <= PEN_MM:
        return (
            f"Sharp enough: lines down to {finest_mm:.2f} mm hold, no coarser than the "
            f"{PEN_MM} mm pen, so nothing that can be traced is lost."
        )
    if finest_mm <= COARSE_MM:
        return (
            f"A little soft: lines thinner than {finest_mm:.1f} mm run together. Outlines trace "
            "well; lashes and single hairs want a look at the photo."
        )
    return (
        f"Soft: the photo gives no line thinner than {finest_mm:.1f} mm at this size. Large forms "
        "trace well, small features do not. A larger photo or a closer crop would help."
    )


@dataclass(frozen=True, kw_only=True)
class Findings:
    """The facts of a plan that warnings depend on.

    Attributes:
        finest_line_mm: The thinnest line that reference and print can hold.
        resolved_ppi: Pixels per inch that the photo can fill.
        photo_px: Width and height of the photo.
        resolved_px: The study's.
        mean_coverage: Share of ink, 0 to 1.
        full_strength: Whether a grey is printed so.
        crossed: Indices of the protected areas that a seam crosses.
        eyes_cut: How many eyes a seam runs through.
        quiet: Whether seams were to keep off eyes.
        sheets: Sheets in all.
        corners_meet: Whether staggered seams meet in one place all the same.
        trim_stacks: How many stacks are cut.
        shortest_mm: The narrowest piece.
    """

    finest_line_mm: float
    resolved_ppi: float
    photo_px: tuple[int, int]
    resolved_px: float
    mean_coverage: float
    full_strength: bool
    crossed: tuple[int, ...]
    eyes_cut: int
    quiet: bool
    sheets: int
    corners_meet: bool
    trim_stacks: int
    shortest_mm: float


def plan_warnings(found: Findings) -> tuple[PlanWarning, ...]:
    """Everything worth saying about a plan, most serious first."""
    crossed = [
        PlanWarning(code="protected-area-crossed", detail=_CROSSED.format(index + 1))
        for index in found.crossed
    ]
    applies = {
        "seam-through-eye": found.eyes_cut > 0,
        "reference-too-small": found.finest_line_mm > COARSE_MM,
        "reference-blurred": blurred(found.resolved_px, found.resolved_ppi),
        "four-corners-meet": found.corners_meet,
        "narrow-piece": found.shortest_mm < SHORTEST_PIECE_MM,
        "much-ink": found.mean_coverage > MUCH_INK,
        "many-sheets": found.sheets > MANY_SHEETS,
    }
    details = _details(found)
    applying = [
        PlanWarning(code=code, detail=details[code]) for code, yes in applies.items() if yes
    ]
    return (*crossed, *applying)


_CROSSED = (
    "Protected area {} is crossed by a seam: it is larger than a sheet, or lies so that no split "
    "with two more sheets spares it. Make it smaller, shift the crop, or use larger sheets."
)

_THROUGH_EYE = {
    True: (
        "A seam runs through an eye: these sheets leave no split that spares every eye. Protect "
        "the face, which may take up to two more sheets, shift the crop, or arrange the seams the "
        "other way."
    ),
    False: (
        "A seam runs through an eye: even seams do not look where they run. Take quiet seams, or "
        "protect the face."
    ),
}

_LESS_INK = {
    True: "Without full strength it takes a third less ink",
    False: "Lightening by 0.3 to 0.5 spares ink",
}


def _details(found: Findings) -> dict[str, str]:
    return {
        "seam-through-eye": _THROUGH_EYE[found.quiet],
        "reference-too-small": _advice(found.finest_line_mm),
        "reference-blurred": holds(*found.photo_px, found.resolved_px),
        "four-corners-meet": (
            "The sheets are filled so tightly that staggered seams cannot keep apart: four corners "
            "meet. A slightly smaller picture or narrower margins would free them."
        ),
        "narrow-piece": (
            f"The narrowest piece is {found.shortest_mm:.0f} mm: the picture is too narrow for a "
            "wider one. Trim it last and hold it with a metal rule."
        ),
        "much-ink": (
            f"About {found.mean_coverage:.0%} of the paper is inked. "
            f"{_LESS_INK[found.full_strength]} and still shows every line."
        ),
        "many-sheets": (
            f"{found.sheets} sheets in {found.trim_stacks} trim stacks: print and join a row or "
            "a column at a time, and measure its length before it goes to the others."
        ),
    }
