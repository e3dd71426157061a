"""How much line there is to trace at each place of the picture, in the chosen style.

Seams and tape keep off this line. Where lines are drawn it follows the setting of detail: sure
outer contours at 0, all contours at the middle, everything that the detail map counts at 1. A
grey or coloured photo is traced by eye, along its contours and a little of its texture; flat
tones are traced along their borders. Where the reading is unsure the detail map counts.

Held against the strokes that outlines draw on eight photographs of 60 × 40 cm, cell by cell of
2 cm: at the middle of `detail` the correlation is 0.86 in the mean (that of the whole detail map
is 0.38) and the length 0.70 times theirs (2.3 times).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.layout.ink_estimate import tone_borders
from worker.spec.contour_line import edge_length
from worker.spec.plan import Rect
from worker.spec.spec import Spec, Tone
from worker.spec.study import (
    PictureDetail,
    PictureFrame,
    ReferenceStudy,
    cells_over,
    sample_over,
    tones_over,
)
from worker.spec.tone_curve import tone_curve

#: Cells need be no finer than a fifth of the tape's width, unless the reading's own are.
_CELL_MM = 4.0
#: Detail at which all contours are drawn and no texture.
_CONTOURS_AT = 0.5
#: Blocks of so many cells of the reading are about as wide as its ridges.
_BLOCK_CELLS = 4
#: Less line than this is none.
_LEAST_MM = 1e-3
#: So much of a photo's texture is traced by eye: on photographs less than its contours.
_TEXTURE_BY_EYE = 0.05
#: A millimetre of texture is worth half of one of an inner contour.
_TEXTURE_WORTH = 0.5
#: An eye is as full of line, in mm for each mm², as nothing else in a picture.
_EYE_PER_MM2 = 5.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class TracedLine:
    """The line to trace.

    Attributes:
        length: Its length.
        weighed: The same, each millimetre counted for how much it matters, and eyes besides.
        eyes: Where eyes are, in mm of the picture.
        told: Whether the length is of what is printed, so that a person may be told it.
    """

    length: PictureDetail
    weighed: PictureDetail
    eyes: tuple[Rect, ...] = ()
    told: bool = True

    def transposed(self) -> TracedLine:
        """The same with rows and columns exchanged."""
        return TracedLine(
            length=self.length.transposed(),
            weighed=self.weighed.transposed(),
            eyes=tuple(Rect(eye.top, eye.left, eye.height, eye.width) for eye in self.eyes),
            told=self.told,
        )


def traced_line(
    spec: Spec, study: ReferenceStudy, frame: PictureFrame, detail: PictureDetail
) -> TracedLine:
    """Count the line to trace.

    Args:
        spec: The spec; of a study without a reading only its style counts.
        study: The study of the reference.
        frame: The crop at its size.
        detail: What the detail map counts there.
    """
    if not study.contour_line.known:
        # Nothing is known of a drawn line then, and no figure of the photo's is told for it.
        length = weighed = detail
        told = spec.tone.photographic
    else:
        length, weighed = _counted(spec.tone, study, frame, detail)
        # A photo that is lightened away leaves nothing to trace.
        told = spec.tone.photographic or spec.tone.style not in {"grey", "colour"}
    eyes = eyes_over(study, frame)
    return TracedLine(length=length, weighed=_with_eyes(weighed, eyes), eyes=eyes, told=told)


def eyes_over(study: ReferenceStudy, frame: PictureFrame) -> tuple[Rect, ...]:
    """The eyes that the picture shows: boxes in mm, upright also where the crop is turned."""
    eyes = (eye for face in study.reading.faces for eye in face.eyes)
    boxes = (frame.box_of(eye, study.width_px, study.height_px) for eye in eyes)
    return tuple(
        Rect(left, top, right - left, bottom - top)
        for left, top, right, bottom in boxes
        if right > left and bottom > top
    )


def _counted(
    tone: Tone, study: ReferenceStudy, frame: PictureFrame, detail: PictureDetail
) -> tuple[PictureDetail, PictureDetail]:
    """The line's length, and the same weighed."""
    if tone.style == "values":
        length = weighed = _borders(tone, study, frame)
    else:
        length, weighed = _lines(tone, study, frame, detail)
    return (
        PictureDetail.of_cells(length, frame.width_mm, frame.height_mm),
        PictureDetail.of_cells(weighed, frame.width_mm, frame.height_mm),
    )


def _lines(
    tone: Tone, study: ReferenceStudy, frame: PictureFrame, detail: PictureDetail
) -> tuple[Floats, Floats]:
    """Contours and texture in each cell, in mm: their length, and weighed."""
    line = study.contour_line
    amount = tone.outline.detail / _CONTOURS_AT if tone.lined else 1.0
    texture = max(amount - 1.0, 0.0) ** 2 if tone.lined else _TEXTURE_BY_EYE
    shape = _shape(cells_over(line.sure, frame), detail, frame)
    everything = detail.in_cells(shape)

    def over(values: npt.NDArray[np.float32]) -> Floats:
        return sample_over(values, study, frame, shape)

    # Line per area has the dimension of one over a length.
    per_mm = line.columns_px * frame.crop.width / frame.width_mm
    mm_in_cell = per_mm * frame.width_mm * frame.height_mm / (shape[0] * shape[1])
    contours = over(line.contours) * mm_in_cell
    blocks = _blocks(cells_over(line.sure, frame))
    contours *= _lines_to_a_ridge(contours, over(line.likely) * everything, blocks)
    if amount < 1.0:
        outlines = over(line.outlines) * mm_in_cell
        contours = outlines + (contours - outlines) * amount
    sure = over(line.sure)
    more = texture * np.maximum(everything - contours, 0.0)
    unsure = (1.0 - sure) * everything
    weighed = over(line.worth) * contours + _TEXTURE_WORTH * more
    return sure * (contours + more) + unsure, sure * weighed + unsure


def _lines_to_a_ridge(ridges: Floats, edges: Floats, blocks: tuple[int, int]) -> Floats:
    """How many lines each ridge stands for, at least 1, in each cell.

    Ridges run into one where lines lie close. The detail map tells them apart, and counts two
    edges for a line at most: half of what it counts on ridges is the fewest lines there are.

    Args:
        ridges: Length of ridges in each cell; it lies along their sides.
        edges: What the detail map counts in each cell, on ridges.
        blocks: How many rows and columns of blocks, about as wide as a ridge.
    """
    around = [
        _around(PictureDetail.of_cells(one, 1.0, 1.0).in_cells(blocks)) for one in (ridges, edges)
    ]
    lines = np.maximum(around[1] / 2 / np.maximum(around[0], _LEAST_MM), 1.0)
    rows, columns = (
        np.arange(count) * block // count for count, block in zip(ridges.shape, blocks, strict=True)
    )
    return np.asarray(lines[rows][:, columns])


def _around(blocks: Floats) -> Floats:
    """Sums of each block and its eight neighbours."""
    padded = np.pad(blocks, 1)
    rows = padded[:-2] + padded[1:-1] + padded[2:]
    return np.asarray(rows[:, :-2] + rows[:, 1:-1] + rows[:, 2:])


def _blocks(cells: tuple[int, int]) -> tuple[int, int]:
    return math.ceil(cells[0] / _BLOCK_CELLS), math.ceil(cells[1] / _BLOCK_CELLS)


def _shape(own: tuple[int, int], detail: PictureDetail, frame: PictureFrame) -> tuple[int, int]:
    """How many rows and columns of cells: no fewer than the reading has in the crop."""
    sides = (frame.height_mm, frame.width_mm)
    rows, columns = (
        max(cells, min(math.ceil(side / _CELL_MM), edges - 1))
        for cells, side, edges in zip(own, sides, detail.sums.shape, strict=True)
    )
    return rows, columns


def _borders(tone: Tone, study: ReferenceStudy, frame: PictureFrame) -> Floats:
    """Borders between tones in each cell, in mm, as the reduced picture has them."""
    printed = tone_curve(tone)[tones_over(study, frame).round().astype("uint8")]
    borders = tone_borders(printed, tone.values.count, tone.values.thresholds)
    number = np.searchsorted(borders, printed).astype(np.int16)
    cell_mm = math.sqrt(frame.width_mm * frame.height_mm / number.size)
    # Where two borders fall together, one line is traced.
    each = [edge_length((number > border).astype(np.int16)) for border in range(len(borders))]
    return np.asarray(np.maximum.reduce(each), np.float64) * cell_mm


def _with_eyes(weighed: PictureDetail, eyes: tuple[Rect, ...]) -> PictureDetail:
    """What each place counts for, eyes being full of line."""
    rows, columns = weighed.sums.shape
    down_mm = np.linspace(0.0, weighed.height_mm, rows)
    across_mm = np.linspace(0.0, weighed.width_mm, columns)
    sums = weighed.sums
    for eye in eyes:
        above = np.clip(down_mm, eye.top, eye.bottom) - eye.top
        before = np.clip(across_mm, eye.left, eye.right) - eye.left
        sums = sums + _EYE_PER_MM2 * above[:, None] * before
    return PictureDetail(sums, weighed.width_mm, weighed.height_mm)
