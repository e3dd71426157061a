"""Steps between blocks, against the tables of the standard."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.pictures.photographs import as_jpeg, as_png, photographs
from tests.unit.reference.samples import taken
from tests.unread import without_reading
from worker.picture.outline.points.jpeg_blocks import block_step
from worker.reference.master import Master


@pytest.fixture(autouse=True)
def unread() -> Iterator[None]:
    """Blocks are told from pixels alone."""
    with without_reading():
        yield


@pytest.mark.parametrize("quality", [10, 20, 30])
def test_the_step_between_blocks_is_what_the_tables_of_the_standard_say(
    quality: int, tmp_path: Path
) -> None:
    """A mean is rounded to the table's first number, an eighth of which is a level.

    ITU-T T.81, table K.1 begins with 16; the reference decoder's quality q below 50 scales it
    by 50 / q.
    """
    down, across = np.mgrid[:512, :1024]
    slope = (60 + 120 * across / 1024 + 0 * down).astype(np.uint8)
    taken(as_jpeg(Image.fromarray(slope), quality), tmp_path)
    with Master.open(tmp_path / "master.zip") as master, ThreadPoolExecutor(2) as pool:
        step = block_step(master, pool)
    assert step == pytest.approx(round(16 * 50 / quality) / 8, abs=1.0)


@pytest.mark.parametrize("name", ["astronaut", "camera", "china", "cat"])
def test_what_was_hardly_compressed_has_no_steps(name: str, tmp_path: Path) -> None:
    taken(as_png(photographs()[name]), tmp_path)
    with Master.open(tmp_path / "master.zip") as master, ThreadPoolExecutor(2) as pool:
        assert block_step(master, pool) == 0.0


def test_straight_edges_of_the_scene_are_no_steps(tmp_path: Path) -> None:
    """Posters, shelves and doors: some fall on places that are eight pixels apart."""
    rng = np.random.default_rng(8)
    photo = 110 + rng.normal(0, 4, (544, 800))
    for left in range(4, 800, 80):
        photo[:, left:] += 45 if left % 160 == 4 else -45
    taken(as_png(np.clip(np.rint(photo), 0, 255).astype(np.uint8)), tmp_path)
    with Master.open(tmp_path / "master.zip") as master, ThreadPoolExecutor(2) as pool:
        assert block_step(master, pool) == 0.0
