"""How much line quiet seams spare, on photographs that others chose.

Line under the tape by our own detail map, and as a check from outside the pixels that
scikit-image's Canny (1986) marks under the same tape.
"""

from __future__ import annotations

import io
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt
import skimage.color
import skimage.feature

from tests.photographs import as_png, photographs
from worker.layout.planning import plan_sheets
from worker.layout.seams.cost_map import TAPE_ACROSS_MM
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.plan import Plan
from worker.spec.spec import Margins, Placement, Seams, Sheet, Spec, Support
from worker.spec.study import ReferenceStudy

#: The longer side of every picture, and margins that any printer keeps to.
LONG_MM = 600.0
SAFE = Sheet(margin_mm=Margins(top=10, right=10, bottom=18, left=10))


@dataclass(frozen=True)
class Row:
    """One photograph: sheets, line under tape in cm by our map, and Canny pixels."""

    name: str
    sheets: int
    even_cm: float
    quiet_cm: float
    staggered_cm: float
    staggered_sheets: int
    canny_even: int
    canny_quiet: int


def rows() -> list[Row]:
    """Every photograph at 60 cm on A4."""
    return [_row(name, photo) for name, photo in photographs().items()]


def _row(name: str, photo: npt.NDArray[np.uint8]) -> Row:
    with tempfile.TemporaryDirectory() as folder:
        study = take_in(io.BytesIO(as_png(photo)), Path(folder), Limits()).study
    even, quiet = (_plan(study, placement, "aligned") for placement in ("even", "quiet"))
    staggered = _plan(study, "quiet", "staggered")
    grey = skimage.color.rgb2gray(photo) if photo.ndim > 2 else photo / 255
    edges = skimage.feature.canny(grey, sigma=1.0)
    return Row(
        name=name,
        sheets=quiet.sheet_count,
        even_cm=_line_cm(even),
        quiet_cm=_line_cm(quiet),
        staggered_cm=_line_cm(staggered),
        staggered_sheets=staggered.sheet_count,
        canny_even=_under_tape(even, edges),
        canny_quiet=_under_tape(quiet, edges),
    )


def _plan(
    study: ReferenceStudy, placement: Placement, arrangement: Literal["aligned", "staggered"]
) -> Plan:
    scale = LONG_MM / max(study.width_px, study.height_px)
    support = Support(width_mm=study.width_px * scale, height_mm=study.height_px * scale)
    seams = Seams(placement=placement, arrangement=arrangement)
    return plan_sheets(Spec(support=support, sheet=SAFE, seams=seams), study)


def _line_cm(plan: Plan) -> float:
    """Of a plan in grey, which is counted."""
    return (plan.seam_line_chosen_mm or 0.0) / 10


def _under_tape(plan: Plan, edges: npt.NDArray[np.bool_]) -> int:
    """Edge pixels under a band of tape along every seam, each seam on its own."""
    per_mm = edges.shape[1] / plan.picture.width_mm
    half, total = TAPE_ACROSS_MM / 2 * per_mm, 0
    for seam in plan.seams:
        (left, top), (right, bottom) = (
            (x * per_mm, y * per_mm) for x, y in (seam.from_mm, seam.to_mm)
        )
        if left == right:
            left, right = left - half, right + half
        else:
            top, bottom = top - half, bottom + half
        rows_, columns = slice(max(round(top), 0), round(bottom)), slice(round(left), round(right))
        total += int(edges[rows_, columns].sum())
    return total


def report() -> None:
    """Print the table."""
    print("\nLine that tape along all seams would hide, 60 cm on A4 (cm; Canny: pixels)")
    print(
        f"  {'photograph':20} {'sheets':>6} {'even':>7} {'quiet':>7} {'less':>6}"
        f" {'staggered':>10} {'less':>6} {'Canny even':>11} {'quiet':>6} {'less':>6}"
    )
    found = rows()
    for row in found:
        print(
            f"  {row.name:20} {row.sheets:6} {row.even_cm:7.0f} {row.quiet_cm:7.0f}"
            f" {_less(row.quiet_cm, row.even_cm)} {row.staggered_cm:6.0f} ({row.staggered_sheets})"
            f" {_less(row.staggered_cm, row.even_cm)} {row.canny_even:11} {row.canny_quiet:6}"
            f" {_less(row.canny_quiet, row.canny_even)}"
        )
    total = [sum(getattr(row, name) for row in found) for name in ("even_cm", "quiet_cm")]
    print(f"  all together: {_less(total[1], total[0]).strip()} line under tape than evenly split")


def _less(chosen: float, even: float) -> str:
    return f"{1 - chosen / even:6.0%}" if even else "     –"
