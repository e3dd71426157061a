"""Pages as pixels."""

import io
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import BLACK
from worker.pdf.raster import rasterise, rasterise_clear
from worker.pdf.writer import PdfWriter
from worker.spec.plan import Size
from worker.spec.spec import Spec, Support


def test_size_follows_resolution_and_threads_agree(make: Callable[..., Any]) -> None:
    path = make(Spec(support=Support(width_mm=300, height_mm=200))).path
    once = np.asarray(rasterise(path, 1, 72))
    # A4 at 72 ppi is 595.3 × 841.9 pixels; PDFium rounds up.
    assert once.shape == (842, 596, 3)
    with ThreadPoolExecutor(8) as pool:
        often = list(pool.map(lambda _: np.asarray(rasterise(path, 1, 72)), range(16)))
    assert all(np.array_equal(once, other) for other in often)


def test_on_clear_ground_things_lie_where_they_are_drawn() -> None:
    file = io.BytesIO()
    with PdfWriter(file, Size(40, 30), title="") as pdf:
        PdfCanvas(pdf).circle((15, 12), 5, fill=BLACK)
        pdf.finish_page()
        pdf.save()
        picture = rasterise_clear(file.getvalue(), (400, 300))
    assert (picture.mode, picture.size) == ("RGBA", (400, 300))
    pixels = np.asarray(picture)
    assert (pixels[pixels[..., 3] == 255][:, :3] == 0).all()
    ink = pixels[..., 3] / 255
    assert ink.sum() == pytest.approx(np.pi * 50**2, rel=0.01)
    middle = [(np.arange(len(row)) + 0.5) @ row / ink.sum() for row in (ink.sum(0), ink.sum(1))]
    assert middle == pytest.approx([150, 120], abs=0.1)
