"""Pages as pixels."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from worker.pdf.raster import rasterise
from worker.spec.spec import Spec, Support


def test_size_follows_resolution_and_threads_agree(make: Callable[..., Any]) -> None:
    path = make(Spec(support=Support(width_mm=300, height_mm=200))).path
    once = np.asarray(rasterise(path, 1, 72))
    # A4 at 72 ppi is 595.3 × 841.9 pixels; PDFium rounds up.
    assert once.shape == (842, 596, 3)
    with ThreadPoolExecutor(8) as pool:
        often = list(pool.map(lambda _: np.asarray(rasterise(path, 1, 72)), range(16)))
    assert all(np.array_equal(once, other) for other in often)
