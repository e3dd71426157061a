"""Pictures in very small."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from worker.picture.thumbnail import LONGER_PX, write_thumbnail


def test_a_thumbnail_is_small_and_of_the_same_proportion(tmp_path: Path) -> None:
    random = np.random.default_rng(3)
    pixels = random.integers(0, 255, (800, 1200), dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "picture.jpg", quality=85)
    write_thumbnail(tmp_path / "picture.jpg", tmp_path / "thumbnail.jpg")
    with Image.open(tmp_path / "thumbnail.jpg") as shown:
        assert shown.size == (LONGER_PX, LONGER_PX * 2 // 3)
    # Noise is the worst that JPEG can be given: what people draw takes a third of it.
    assert (tmp_path / "thumbnail.jpg").stat().st_size < 60_000
