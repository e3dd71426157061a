"""Pages as pixels, for screens.

PDFium must not be called from two threads, not even for two documents, so one lock guards it.
"""

from __future__ import annotations

import threading
from pathlib import Path

import pypdfium2
from PIL import Image

from worker.units import PT_PER_INCH

_PDFIUM = threading.Lock()


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
