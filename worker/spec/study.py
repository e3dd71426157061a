"""The study: what the layout knows about a reference (its size, line and tones).

Imaging makes a `ReferenceStudy` once, at intake; here it is read for one crop at one
size. The detail map is kept at several scales, because what counts as one line depends
on how large the crop will be drawn: the level whose pixels come closest to half a 0.5 mm
pen (ISO 9175-1) on the paper is the one that is read.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from worker.spec.contour_line import ContourLine, contour_line
from worker.spec.dark_lift import lift_map
from worker.spec.reading import NOTHING_READ, Reading
from worker.spec.spec import Area

#: The pen that tracing commonly uses, ISO 9175-1.
PEN_MM = 0.5
#: The level that is read has pixels of about this size on the paper.
PIXEL_ON_PAPER_MM = PEN_MM / 2

Floats = npt.NDArray[np.float32]
Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True, eq=False)
class DetailLevel:
    """Line per area at one scale.

    Attributes:
        density: (rows, columns), over the whole upright reference; length of line in
            level pixels per square level pixel.
        pixel_size_px: How many reference pixels a level pixel is wide.
    """

    density: Floats
    pixel_size_px: float


@dataclass(frozen=True, kw_only=True, eq=False)
class ReferenceStudy:
    """Size in pixels, detail at several scales, and grey values of the reduced picture.

    Attributes:
        levels: From fine to coarse; at least one.
        thumb: (rows, columns) encoded grey values 0 to 255 of the whole upright reference,
            the longer side some 320.
        reading: What is seen in it.
        resolved_px: How many reference pixels wide the finest pixel is that the photo can
            fill: 1 where it is sharp, more where it was enlarged, or is blurred.
    """

    width_px: int
    height_px: int
    levels: tuple[DetailLevel, ...]
    thumb: Bytes
    reading: Reading = field(default_factory=lambda: NOTHING_READ)
    resolved_px: float = 1.0

    @cached_property
    def contour_line(self) -> ContourLine:
        """How much line the reading holds: counted when first asked for, then kept."""
        return contour_line(self.reading)


@dataclass(frozen=True, kw_only=True)
class PictureFrame:
    """The crop of the reference that fills the picture, and the picture's size.

    Attributes:
        crop: In shares of the upright reference, before it is turned.
        rotate_deg: Turn of the crop about its own centre.
        width_mm, height_mm: Size of the picture.
        mirror: Whether the picture is printed mirrored.
    """

    crop: Area
    rotate_deg: float
    width_mm: float
    height_mm: float
    mirror: bool

    def box_of(
        self, area: Area, width_px: int, height_px: int
    ) -> tuple[float, float, float, float]:
        """Where the picture has an area of the upright reference: the upright box around it.

        Args:
            area: In shares of the upright reference.
            width_px: Width of the reference.
            height_px: Its height.

        Returns:
            Left, top, right, bottom in mm, cut at the picture's edges; where it lies outside,
            right is not beyond left, or bottom not beyond top.
        """
        box = self.uncut_box_of(area, width_px, height_px)
        left, right = (float(x) for x in np.clip(box[::2], 0, self.width_mm))
        top, bottom = (float(y) for y in np.clip(box[1::2], 0, self.height_mm))
        return left, top, right, bottom

    def uncut_box_of(
        self, area: Area, width_px: int, height_px: int
    ) -> tuple[float, float, float, float]:
        """The same with what lies beyond the picture's edges."""
        turn, crop = math.radians(self.rotate_deg), self.crop
        x_share = np.array([area.left, area.left + area.width] * 2)
        y_share = np.array([area.top, area.top + area.height]).repeat(2)
        x_px = (x_share - crop.left - crop.width / 2) * width_px
        y_px = (y_share - crop.top - crop.height / 2) * height_px
        across = math.cos(turn) * x_px - math.sin(turn) * y_px
        down = math.sin(turn) * x_px + math.cos(turn) * y_px
        x_mm = (across / (crop.width * width_px) + 0.5) * self.width_mm
        y_mm = (down / (crop.height * height_px) + 0.5) * self.height_mm
        if self.mirror:
            x_mm = self.width_mm - x_mm
        return float(x_mm.min()), float(y_mm.min()), float(x_mm.max()), float(y_mm.max())


#: Line in upright bands, each from a start to an end.
LineInBands = Callable[[npt.NDArray[np.float64], npt.NDArray[np.float64]], npt.NDArray[np.float64]]


@dataclass(frozen=True, eq=False)
class PictureDetail:
    """How much line there is in any rectangle of the picture.

    `sums[r, c]` is the line, in mm, left of and above the corner (r, c) of a grid of cells
    that divide the picture evenly (a summed-area table, Crow 1984).
    """

    sums: npt.NDArray[np.float64]
    width_mm: float
    height_mm: float

    @classmethod
    def of_cells(
        cls, line_mm: npt.NDArray[np.float64], width_mm: float, height_mm: float
    ) -> PictureDetail:
        """From the line in each cell; (rows, columns)."""
        rows, columns = line_mm.shape
        sums = np.zeros((rows + 1, columns + 1))
        np.cumsum(line_mm, axis=0, out=sums[1:, 1:])
        np.cumsum(sums[1:, 1:], axis=1, out=sums[1:, 1:])
        return cls(sums, width_mm, height_mm)

    def in_cells(self, shape: tuple[int, int]) -> npt.NDArray[np.float64]:
        """Line in each of so many (rows, columns) even cells, which may be any others."""
        sums = self.sums
        for axis, count in enumerate(shape):
            low, share = _between_edges(sums.shape[axis] - 1, count)
            share = share.reshape((-1, 1) if axis == 0 else (1, -1))
            near, far = np.take(sums, low, axis), np.take(sums, low + 1, axis)
            sums = near + (far - near) * share
        return np.diff(np.diff(sums, axis=0), axis=1)

    @property
    def total_mm(self) -> float:
        """All line of the picture."""
        return float(self.sums[-1, -1])

    def left_of(self, top_mm: float, bottom_mm: float) -> npt.NDArray[np.float64]:
        """Line between two heights and left of each column edge; (columns + 1,)."""
        return self._row(bottom_mm) - self._row(top_mm)

    def in_columns(
        self,
        starts_mm: npt.NDArray[np.float64],
        ends_mm: npt.NDArray[np.float64],
        top_mm: float,
        bottom_mm: float,
    ) -> npt.NDArray[np.float64]:
        """Line in upright bands from `starts_mm` to `ends_mm`, between two heights."""
        return self.between(top_mm, bottom_mm)(starts_mm, ends_mm)

    def between(self, top_mm: float, bottom_mm: float) -> LineInBands:
        """The same for bands that are asked for later, many times between the same heights."""
        edges, running = self._edges_mm, self.left_of(top_mm, bottom_mm)
        return lambda starts_mm, ends_mm: (
            np.interp(ends_mm, edges, running) - np.interp(starts_mm, edges, running)
        )

    @cached_property
    def _edges_mm(self) -> npt.NDArray[np.float64]:
        return np.linspace(0.0, self.width_mm, self.sums.shape[1])

    def transposed(self) -> PictureDetail:
        """The same with rows and columns exchanged."""
        return self._turned

    @cached_property
    def _turned(self) -> PictureDetail:
        # A search reads hundreds of rows either way, which is fast only where they lie together.
        return PictureDetail(np.ascontiguousarray(self.sums.T), self.height_mm, self.width_mm)

    def _row(self, at_mm: float) -> npt.NDArray[np.float64]:
        rows = self.sums.shape[0] - 1
        place = min(max(at_mm / self.height_mm * rows, 0.0), float(rows))
        low = min(int(place), rows - 1)
        share = place - low
        row: npt.NDArray[np.float64] = self.sums[low] * (1.0 - share) + self.sums[low + 1] * share
        return row


def detail_over(study: ReferenceStudy, frame: PictureFrame) -> PictureDetail:
    """Read the detail map for one crop at one size.

    Returns:
        Line in mm, on the cells of the level that suits the size.
    """
    mm_per_px = frame.width_mm / (frame.crop.width * study.width_px)
    level = min(
        study.levels,
        key=lambda one: abs(math.log2(one.pixel_size_px * mm_per_px / PIXEL_ON_PAPER_MM)),
    )
    # The map's own cells are read: finer ones would hold nothing more.
    shape = cells_over(level.density, frame)
    density = sample_over(level.density, study, frame, shape)
    # Line per area has the dimension of one over a length, so it shrinks as the scale grows.
    per_mm2 = density / (level.pixel_size_px * mm_per_px)
    cell_mm2 = frame.width_mm * frame.height_mm / (shape[0] * shape[1])
    return PictureDetail.of_cells(per_mm2 * cell_mm2, frame.width_mm, frame.height_mm)


def tones_over(study: ReferenceStudy, frame: PictureFrame) -> npt.NDArray[np.float64]:
    """Grey values 0 to 255 over the picture, as fine as the thumbnail; (rows, columns)."""
    shape = cells_over(study.thumb, frame)
    return sample_over(study.thumb, study, frame, shape)


def lift_over(study: ReferenceStudy, frame: PictureFrame) -> npt.NDArray[np.float64]:
    """How far darks may be lifted, 0 to 1, on the cells of `tones_over`."""
    wanted = lift_map(study.reading.contour, study.thumb)
    return sample_over(wanted, study, frame, cells_over(study.thumb, frame)) / 255.0


def cells_over(values: Floats | Bytes, frame: PictureFrame) -> tuple[int, int]:
    """How many rows and columns of a map the crop spans."""
    rows, columns = values.shape
    return (
        max(math.ceil(rows * frame.crop.height), 1),
        max(math.ceil(columns * frame.crop.width), 1),
    )


def sample_over(
    values: Floats | Bytes, study: ReferenceStudy, frame: PictureFrame, shape: tuple[int, int]
) -> npt.NDArray[np.float64]:
    """Values of a map over the whole reference, at the middle of each cell of the picture."""
    cells = (
        _sample_turned(values, study, frame, shape)
        if frame.rotate_deg
        else _sample_upright(values, frame, shape)
    )
    return cells[:, ::-1] if frame.mirror else cells


def _sample_upright(
    values: Floats | Bytes, frame: PictureFrame, shape: tuple[int, int]
) -> npt.NDArray[np.float64]:
    crop = frame.crop
    rows = (crop.top + (np.arange(shape[0]) + 0.5) / shape[0] * crop.height) * values.shape[0]
    columns = (crop.left + (np.arange(shape[1]) + 0.5) / shape[1] * crop.width) * values.shape[1]
    row_low, row_share = _between(rows, values.shape[0])
    column_low, column_share = _between(columns, values.shape[1])
    # One sample more at the end: a single row or column has an upper neighbour too.
    near = np.pad(values.astype(np.float32), ((0, 1), (0, 1)), mode="edge")
    left, share = near[:, column_low], row_share.astype(np.float32)[:, None]
    across = left + (near[:, column_low + 1] - left) * column_share.astype(np.float32)
    above = across[row_low]
    return np.asarray(above + (across[row_low + 1] - above) * share, np.float64)


def _sample_turned(
    values: Floats | Bytes, study: ReferenceStudy, frame: PictureFrame, shape: tuple[int, int]
) -> npt.NDArray[np.float64]:
    crop, turn = frame.crop, math.radians(frame.rotate_deg)
    along_x = ((np.arange(shape[1]) + 0.5) / shape[1] - 0.5) * crop.width * study.width_px
    along_y = ((np.arange(shape[0]) + 0.5) / shape[0] - 0.5) * crop.height * study.height_px
    along_y = along_y[:, None]
    # The picture's content turns clockwise, so its axes turn the other way in the reference.
    x_px = math.cos(turn) * along_x + math.sin(turn) * along_y
    y_px = -math.sin(turn) * along_x + math.cos(turn) * along_y
    x_share = crop.left + crop.width / 2 + x_px / study.width_px
    y_share = crop.top + crop.height / 2 + y_px / study.height_px
    columns = np.clip(x_share * values.shape[1], 0, values.shape[1] - 1).astype(np.intp)
    rows = np.clip(y_share * values.shape[0], 0, values.shape[0] - 1).astype(np.intp)
    sampled: npt.NDArray[np.float64] = values[rows, columns].astype(np.float64)
    return sampled


def _between(
    places: npt.NDArray[np.float64], count: int
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.float64]]:
    """Lower neighbour and share of the upper one, for samples that sit at their middle."""
    centred = np.clip(places - 0.5, 0.0, max(count - 1, 0))
    low = np.minimum(centred.astype(np.intp), max(count - 2, 0))
    return low, centred - low


def _between_edges(cells: int, count: int) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.float64]]:
    """The edges of `count` even cells among those of `cells`: the lower one, share of the next."""
    edges = np.arange(count + 1, dtype=np.float64) * (cells / count)
    low = np.minimum(edges.astype(np.intp), cells - 1)
    return low, edges - low
