"""Print, trim, join: pages of a pack rendered by outside programs and laid in their places.

Every sheet is rendered by PDFium or by Poppler, cut at its TrimBox as a person would cut it,
and joined by the plan.
"""

from __future__ import annotations

import io
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pikepdf
import pypdfium2
from PIL import Image

from worker.spec.plan import Plan
from worker.spec.spec import Spec

#: The enlargement that is compared has 200 ppi. Pages are rendered finer, since both renderers
#: widen a picture to whole pixels of theirs, which at 200 ppi alone is up to 0.127 mm; and the
#: packs are printed finer, since Poppler shifts a picture that it must enlarge by half one of
#: the picture's own pixels.
PX_PER_MM = 200.0 / 25.4
RENDER_PPI = 450.0
Values = npt.NDArray[np.floating]
#: A page in grey, 0 to 255.
Page = npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Made:
    """A pack and what it was made from."""

    pdf: Path
    spec: Spec
    plan: Plan


def by_pdfium(pdf: Path, page: int, ppi: float = RENDER_PPI) -> Page:
    """One page rendered by PDFium (Chromium's renderer)."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        bitmap = document[page - 1].render(scale=ppi / 72, grayscale=True)
        return bitmap.to_numpy().copy()
    finally:
        document.close()


def by_poppler(pdf: Path, page: int, ppi: float = RENDER_PPI) -> Page:
    """One page rendered by Poppler."""
    number = str(page)
    command = ["pdftoppm", "-r", str(ppi), "-gray", "-f", number, "-l", number, str(pdf)]
    shown = subprocess.run(command, capture_output=True, check=True).stdout
    return np.asarray(Image.open(io.BytesIO(shown)))


Render = Callable[[Path, int], Page]


def trim_box_mm(made: Made, number: int) -> tuple[float, float, float, float]:
    """Left, top, width and height of a page's TrimBox, read from the file, not from the plan."""
    with pikepdf.open(made.pdf) as document:
        leaf = document.pages[made.plan.pieces[number].page - 1]
        left, bottom, right, top = (float(value) for value in leaf.TrimBox)
        height_pt = float(leaf.MediaBox[3])
    in_pt = (left, height_pt - top, right - left, top - bottom)
    return tuple(value * 25.4 / 72 for value in in_pt)


def _on_page(share: Values, start_mm: float, length_mm: float, per_mm: float) -> Values:
    """Where a share of the trimmed piece lies on the page, in the renderer's pixels.

    The outermost pixel of the renderer's may hold half of the trim mark beside the piece, so
    the edge is read one of its pixels (0.06 mm) further in.
    """
    place = (start_mm + share * length_mm) * per_mm - 0.5
    return np.clip(place, start_mm * per_mm + 0.5, (start_mm + length_mm) * per_mm - 1.5)


def lay(made: Made, number: int, render: Render, whole: Values) -> npt.NDArray[np.bool_]:
    """Cut one page at its TrimBox, lay it in its place, and say what it covers.

    Every pixel of the enlargement is looked up on the page by its place in the trimmed piece,
    so that nothing is rounded; the printer's correction is taken back as the printer would,
    and a piece that was turned clockwise is turned back.
    """
    piece = made.plan.pieces[number]
    rect = piece.picture_rect_mm
    x_mm = (np.arange(whole.shape[1]) + 0.5) / PX_PER_MM
    y_mm = (np.arange(whole.shape[0]) + 0.5) / PX_PER_MM
    columns = np.flatnonzero((x_mm > rect.left) & (x_mm < rect.right))
    rows = np.flatnonzero((y_mm > rect.top) & (y_mm < rect.bottom))
    share_x = ((x_mm[columns] - rect.left) / rect.width)[None, :]
    share_y = ((y_mm[rows] - rect.top) / rect.height)[:, None]
    across, down = (1.0 - share_y, share_x) if piece.turned_deg else (share_x, share_y)
    left, top, width, height = trim_box_mm(made, number)
    page = render(made.pdf, piece.page).astype(np.float32)
    per_mm = page.shape[1] / made.plan.sheet.width_mm, page.shape[0] / made.plan.sheet.height_mm
    shape = (rows.size, columns.size)
    map_x = np.broadcast_to(_on_page(across, left, width, per_mm[0]), shape)
    map_y = np.broadcast_to(_on_page(down, top, height, per_mm[1]), shape)
    found = cv2.remap(page, map_x.astype(np.float32), map_y.astype(np.float32), cv2.INTER_LINEAR)
    place = np.ix_(rows, columns)
    whole[place] = found
    covered = np.zeros(whole.shape, dtype=bool)
    covered[place] = True
    return covered


def joined(made: Made, render: Render) -> tuple[Values, npt.NDArray[np.bool_]]:
    """All pieces laid in their places, and where anything lies."""
    height = round(made.plan.picture.height_mm * PX_PER_MM)
    width = round(made.plan.picture.width_mm * PX_PER_MM)
    whole, covered = np.zeros((height, width)), np.zeros((height, width), dtype=bool)
    for number in range(len(made.plan.pieces)):
        covered |= lay(made, number, render, whole)
    return whole, covered
