"""How much line quiet seams spare, on photographs that others chose.

Line to trace under the tape by our own count, and as a check from outside the pixels that
scikit-image's Canny (1986) marks under the same tape. And how many eyes seams run through, with
the reading and without: of these photographs, or of those in a folder that BENCH_PHOTOS names.
"""

from __future__ import annotations

import io
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np
import numpy.typing as npt
import skimage.color
import skimage.feature
from PIL import Image

from tests.pictures.photographs import as_png, photographs
from worker.layout.planning import plan_sheets
from worker.layout.seams.cost_map import TAPE_ACROSS_MM
from worker.layout.traced_line import eyes_over
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.plan import Plan, Rect
from worker.spec.reading import NOTHING_READ
from worker.spec.spec import Margins, Placement, Seams, Sheet, Spec, Support
from worker.spec.study import PictureFrame, ReferenceStudy

#: The longer side of every picture, and margins that any printer keeps to.
LONG_MM = 600.0
#: Wide enough to pass over most grain and weave, which are not traced.
CANNY_SIGMA_PX = 2.0
#: Tissue in which nuclei (haematoxylin, blue) are one stain and a protein (brown) another.
STAINED = "immunohistochemistry"
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
    study = _study(as_png(photo))
    even, quiet = (_plan(study, placement, "aligned") for placement in ("even", "quiet"))
    staggered = _plan(study, "quiet", "staggered")
    edges = skimage.feature.canny(_traced_values(name, photo), sigma=CANNY_SIGMA_PX)
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


def _traced_values(name: str, photo: npt.NDArray[np.uint8]) -> npt.NDArray[np.float64]:
    """What has the edges that a person traces, (rows, columns) of 0 to 1.

    Of stained tissue one traces nuclei. In grey they are as dark as the other stain, whose cloudy
    edges are most of what there is; so both stains are parted (Ruifrok and Johnston,
    "Quantification of histochemical staining by color deconvolution", 2001), as scikit-image's
    manual does with this picture.
    """
    if name == STAINED:
        nuclei = skimage.color.rgb2hed(photo)[..., 0]
        return np.asarray((nuclei - nuclei.min()) / np.ptp(nuclei))
    return np.asarray(skimage.color.rgb2gray(photo) if photo.ndim > 2 else photo / 255)


@dataclass(frozen=True)
class Eyes:
    """Eyes of one photograph on one support, and how many seams run through.

    Attributes:
        shown: How many the picture shows.
        unread: How many are cut where nothing is known of eyes and contours.
        cut: How many are cut with the reading.
        warned: Whether the plan says so.
    """

    name: str
    support: str
    shown: int
    unread: int
    cut: int
    warned: bool


#: Width and height of supports whose default seams are held against eyes.
SUPPORTS_MM = ((600.0, 400.0), (400.0, 600.0), (1000.0, 700.0))


def eyes(study: ReferenceStudy, name: str) -> Iterator[Eyes]:
    """Default seams of one study on each support."""
    for width_mm, height_mm in SUPPORTS_MM:
        spec = Spec(support=Support(width_mm=width_mm, height_mm=height_mm))
        plan = plan_sheets(spec, study)
        # The same crop, so that the same eyes are shown.
        unread = plan_sheets(replace(spec, crop=plan.crop), replace(study, reading=NOTHING_READ))
        frame = PictureFrame(
            crop=plan.crop, rotate_deg=0, width_mm=width_mm, height_mm=height_mm, mirror=False
        )
        shown = eyes_over(study, frame)
        if shown:
            yield Eyes(
                name=name,
                support=f"{width_mm / 10:.0f} × {height_mm / 10:.0f}",
                shown=len(shown),
                unread=eyes_cut(unread, shown),
                cut=eyes_cut(plan, shown),
                warned="seam-through-eye" in {warning.code for warning in plan.warnings},
            )


def eyes_cut(plan: Plan, shown: tuple[Rect, ...]) -> int:
    """How many eyes any seam runs through."""
    return sum(
        any(
            seam.from_mm[0] < eye.right
            and seam.to_mm[0] > eye.left
            and seam.from_mm[1] < eye.bottom
            and seam.to_mm[1] > eye.top
            for seam in plan.seams
        )
        for eye in shown
    )


def _study(photo: bytes) -> ReferenceStudy:
    with tempfile.TemporaryDirectory() as folder:
        return take_in(io.BytesIO(photo), Path(folder), Limits()).study


def _photos() -> Iterator[tuple[str, bytes]]:
    """Those of a folder if one is named, each as a file."""
    folder = os.environ.get("BENCH_PHOTOS")
    if not folder:
        yield from ((name, as_png(photo)) for name, photo in photographs().items())
        return
    for path in sorted(Path(folder).iterdir()):
        if path.suffix in {".jpg", ".png"}:
            file = io.BytesIO()
            Image.open(path).convert("RGB").save(file, "PNG")
            yield path.stem, file.getvalue()


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
    report_eyes()


def report_eyes() -> None:
    """Print how many eyes default seams run through."""
    print("\nEyes that default seams run through, on A4 with the usual margins (support in cm)")
    print(f"  {'photograph':20} {'support':>9} {'eyes':>5} {'unread':>7} {'cut':>4}")
    counted = [one for name, photo in _photos() for one in eyes(_study(photo), name)]
    for one in counted:
        said = " warned" if one.warned else ""
        print(f"  {one.name:20} {one.support:>9} {one.shown:5} {one.unread:7} {one.cut:4}{said}")
    print(
        f"  all together: {sum(one.shown for one in counted)} eyes, without the reading "
        f"{sum(one.unread for one in counted)} cut, with it {sum(one.cut for one in counted)}"
    )


def _less(chosen: float, even: float) -> str:
    return f"{1 - chosen / even:6.0%}" if even else "     –"
