"""Pages as pixels, for screens.

PDFium must not be called from two threads, not even for two documents, so one lock guards it.
"""

from __future__ import annotations

import threading
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
from PIL import Image

from worker.units import PT_PER_INCH

_PDFIUM = threading.Lock()
#: Of a length: what rounding in the file may have added.
_HAIR = 1e-6


def rasterise(pdf: Path, page: int, ppi: float) -> Image.Image:
    """One page as an RGB picture.

    Args:
        pdf: The file.
        page: Number of the page, from 1.
        ppi: Pixels per inch.
    """
    with _PDFIUM:
        document = pypdfium2.PdfDocument(pdf)
        try:
            bitmap = document[page - 1].render(scale=ppi / PT_PER_INCH)
            picture: Image.Image = bitmap.to_pil().convert("RGB")
            # The pixels belong to PDFium until they are copied.
            return picture.copy()
        finally:
            document.close()


def rasterise_clear(pdf: bytes, size_px: tuple[int, int]) -> Image.Image:
    """The only page of a document as an RGBA picture, clear where nothing is drawn.

    Args:
        pdf: The document.
        size_px: Columns and rows of the picture, which have the page's proportions.
    """
    with _PDFIUM:
        document = pypdfium2.PdfDocument(pdf)
        try:
            page = document[0]
            # A hair less, since the sides are rounded up to whole pixels.
            scale = size_px[0] / page.get_width() * (1 - _HAIR)
            bitmap = page.render(
                scale=scale,
                fill_color=(255, 255, 255, 0),
                force_bitmap_format=pdfium.FPDFBitmap_BGRA,
                rev_byteorder=True,
            )
            picture: Image.Image = bitmap.to_pil()
            return picture.crop((0, 0, *size_px))
        finally:
            document.close()
