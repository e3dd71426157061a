"""Posterisation: the picture in a few flat tones, on cells as fine as its smallest patch needs.

The result takes three bytes a cell, with cells of about half a millimetre, and says for the
whole picture which tone each cell has. `piece` draws it at any resolution, sheet by sheet.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.picture.enlarge import map_part, picture_part, reduced_size
from worker.picture.tones.contour_regions import contour_regions
from worker.picture.tones.contour_sides import contours_lost
from worker.picture.tones.edge_preserving import FINE, Bytes, Fine, guided_filter
from worker.picture.tones.otsu import multi_otsu
from worker.picture.tones.parting_lines import PartingLines, parting_lines
from worker.picture.tones.patches import Regions, merge_small_areas
from worker.picture.tones.printed_greys import class_means, print_greys
from worker.picture.tones.regions import merge_small_patches
from worker.reference.master import Master
from worker.spec.plan import Plan, Rect
from worker.spec.spec import Spec
from worker.spec.strokes import line_widths_mm

#: So many cells to the smallest patch. The brush that must fit into a patch is a cell wider,
#: for what the smoothing of borders takes off a round one.
_CELLS_A_PATCH = 4.0
#: Finer cells show nothing more, coarser ones lose form.
_FINEST_MM, _COARSEST_MM = 0.3, 1.0
#: Three bytes each, and some ten while they are found: a mural's cells are larger.
MAX_CELLS = 8_500_000
#: Rows of cells that are read at once, whatever the threads, so that all give the same.
_ROWS_AT_ONCE = 256
#: The box of smoothing, in shares of the smallest patch.
_BOX_SHARE = 1.5
#: Differences up to these greys are grain or texture to a brush.
_GRAIN = 20.0
#: No patch is smaller, whatever the support: less is not laid in with a stick of pastel
#: (common practice). What the drawing of borders takes off comes on top.
SMALLEST_MM2, _DRAWN_OFF = 25.0, 1.3
#: The longer side of the map that contours are looked at in: finer than they are read.
_MAP_PX = 640
#: Sides of contours smaller than this, in mm², are no forms: where two contours run close
#: together there are slivers between them.
_SMALLEST_FORM_MM2 = 250.0


@dataclass(frozen=True, kw_only=True)
class Posterised:
    """The picture in flat tones.

    Attributes:
        thresholds: Where one tone ends and the next begins, in shares of the printed grey.
        tones: The grey, 0 to 255, that each tone is printed in, dark to light; the last is
            255, the paper.
        shares: The share of the picture that each tone takes.
        cells: (rows, columns) uint8: the number of each cell's tone.
        fine: (rows, columns) uint16: the smoothed greys in 256ths, by which borders run
            between cells.
        lines: What parts patches of one tone along contours; None where nothing does.
    """

    thresholds: tuple[float, ...]
    tones: tuple[int, ...]
    shares: tuple[float, ...]
    cells: Bytes
    fine: Fine
    lines: PartingLines | None = None


def posterise(master: Master, spec: Spec, plan: Plan, *, threads: int = 2) -> Posterised:
    """Divide the picture into flat tones.

    Args:
        master: The reference.
        spec: The spec; lightening and contrast are applied before tones are divided.
        plan: Its plan.
        threads: How many strips are read at once; the result does not depend on it.
    """
    grid = _grid(spec, plan)
    contour = _contour(master, spec, plan)
    grey = _read(master, spec, plan, grid, threads)
    smallest = spec.tone.values.smallest_mm / grid.cell_mm
    fine = guided_filter(grey, round(smallest * _BOX_SHARE), _GRAIN, _on_cells(contour, grid))
    histogram = _counts(grey)
    # Patches are what takes most memory; nothing else is held meanwhile.
    del grey
    thresholds = _thresholds(spec, histogram, fine, contour)
    means = class_means(histogram, thresholds)
    tones = print_greys(means)
    cells = merge_small_patches(
        _thresholded(fine, thresholds), fine, means, math.ceil((smallest - 1) / 2)
    )
    cells, lines = _parted(cells, fine, means, contour, grid, spec)
    counts = _counts(cells)[: len(tones)].tolist()
    return Posterised(
        thresholds=tuple(each / 255.0 for each in thresholds),
        tones=tones,
        shares=tuple(count / cells.size for count in counts),
        cells=cells,
        fine=fine,
        lines=lines,
    )


@dataclass(frozen=True)
class _CellGrid:
    columns: int
    rows: int
    cell_mm: float


def _grid(spec: Spec, plan: Plan) -> _CellGrid:
    picture = plan.picture
    wished = spec.tone.values.smallest_mm / _CELLS_A_PATCH
    coarse_enough = math.sqrt(picture.width_mm * picture.height_mm / MAX_CELLS)
    cell_mm = max(min(max(wished, _FINEST_MM), _COARSEST_MM), coarse_enough)
    columns = max(math.ceil(picture.width_mm / cell_mm), 2)
    rows = max(math.ceil(picture.height_mm / cell_mm), 2)
    return _CellGrid(columns, rows, cell_mm)


def _contour(master: Master, spec: Spec, plan: Plan) -> Bytes:
    """How likely a contour passes, over the picture."""
    picture = plan.picture
    whole = Rect(0.0, 0.0, picture.width_mm, picture.height_mm)
    size = reduced_size(picture, _MAP_PX, _MAP_PX)
    read = Image.fromarray(master.reading.contour)
    return np.asarray(map_part(read, master, spec, plan, whole, size))


def _on_cells(contour: Bytes, grid: _CellGrid) -> Bytes | None:
    """The same on the cells; None where there is no contour."""
    if not contour.any():
        return None
    size = (grid.columns, grid.rows)
    return np.asarray(Image.fromarray(contour).resize(size, Image.Resampling.BILINEAR))


def _parted(  # noqa: PLR0913, PLR0917 - patches, what they are judged by, and how they are drawn.
    cells: Bytes,
    fine: Fine,
    means: npt.NDArray[np.float64],
    contour: Bytes,
    grid: _CellGrid,
    spec: Spec,
) -> tuple[Bytes, PartingLines | None]:
    """Patches that are large enough, and the lines between those of one tone."""
    if spec.tone.values.smallest_mm == 0:
        return cells, None
    regions = _regions(contour, grid)
    least = SMALLEST_MM2 * _DRAWN_OFF / grid.cell_mm**2
    cells, regions = merge_small_areas(cells, regions, fine, means, least)
    lines = parting_lines(
        cells,
        regions,
        cell_mm=grid.cell_mm,
        map_px_mm=grid.columns * grid.cell_mm / contour.shape[1],
        width_mm=line_widths_mm(spec.tone.outline.line_mm)[0],
    )
    return cells, lines


def _regions(contour: Bytes, grid: _CellGrid) -> Regions:
    """On which side of the contours each cell is."""
    px_mm = grid.columns * grid.cell_mm / contour.shape[1]
    regions = Image.fromarray(contour_regions(contour, _SMALLEST_FORM_MM2 / px_mm**2))
    size = (grid.columns, grid.rows)
    return np.asarray(regions.resize(size, Image.Resampling.NEAREST))


def _read(master: Master, spec: Spec, plan: Plan, grid: _CellGrid, threads: int) -> Bytes:
    """The printed grey of each cell."""
    grey = np.empty((grid.rows, grid.columns), np.uint8)

    def read(top: int) -> None:
        rows = min(_ROWS_AT_ONCE, grid.rows - top)
        high = plan.picture.height_mm / grid.rows
        rect = Rect(0.0, top * high, plan.picture.width_mm, rows * high)
        size = (grid.columns, rows)
        grey[top : top + rows] = np.asarray(
            picture_part(master, spec, plan, rect, size, colour_mode="grey")
        )

    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(read, range(0, grid.rows, _ROWS_AT_ONCE)))
    return grey


def _counts(cells: Bytes) -> npt.NDArray[np.int64]:
    """How many cells hold each of the 256 numbers; numpy would hold eight bytes for each."""
    return np.array(Image.fromarray(cells).histogram(), np.int64)


def _thresholds(
    spec: Spec, histogram: npt.NDArray[np.int64], fine: Fine, contour: Bytes
) -> tuple[float, ...]:
    """In greys; those found lie between two, so that no printed grey is one."""
    values = spec.tone.values
    if values.thresholds is not None:
        return tuple(each * 255.0 for each in values.thresholds)
    lost = contours_lost(fine, contour)
    return tuple(last + 0.5 for last in multi_otsu(histogram, values.count, lost))


def _thresholded(fine: Fine, thresholds: tuple[float, ...]) -> Bytes:
    cells = np.zeros(fine.shape, np.uint8)
    for threshold in thresholds:
        cells += fine > threshold * FINE
    return cells
