"""Pages as pixels, for screens.

PDFium is not safe to call from two threads, not even for two documents, so one lock
stands before it.
"""

from __future__ import annotations

import threading
from pathlib import Path

import pypdfium2
from PIL import Image

from worker.units import PT_PER_INCH

_PDFIUM = threading.Lock()


def rasterise(pdf: Path, page: int, ppi: float) -> Image.Image:
    """One page, from 1, as an RGB picture of so many pixels per inch."""
    with _PDFIUM:
        document = pypdfium2.PdfDocument(pdf)
        try:
            bitmap = document[page - 1].render(scale=ppi / PT_PER_INCH)
            picture: Image.Image = bitmap.to_pil().convert("RGB")
            # The pixels belong to PDFium until they are copied.
            return picture.copy()
        finally:
            document.close()
