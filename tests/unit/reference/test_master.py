"""The master gives any part of the reference, whole or reduced, to many threads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from PIL import Image

from tests.unit.reference.samples import saved, taken_unread
from worker.reference import master
from worker.reference.master import Master

SIZE_PX = (2501, 1403)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A taken-in photograph whose sides are no multiples of anything."""
    path = tmp_path_factory.mktemp("reference")
    photo = Image.fromarray(skimage.data.astronaut()).resize(SIZE_PX, Image.Resampling.BICUBIC)
    taken_unread(saved(photo, "PNG"), path)
    return path


@pytest.mark.parametrize("style", ["grey", "colour"])
@pytest.mark.parametrize("shrink", [1, 2, 4, 8])
def test_a_window_is_that_part_of_the_whole(folder: Path, style: str, shrink: int) -> None:
    with Master.open(folder / "master.zip") as read:
        whole = read.window(style, (0, 0, *SIZE_PX), shrink=shrink)  # type: ignore[arg-type]
        assert whole.size == (-(-SIZE_PX[0] // shrink), -(-SIZE_PX[1] // shrink))
        box = (1000, 496, 2501, 1403)
        part = read.window(style, box, shrink=shrink)  # type: ignore[arg-type]
    cut = (box[0] // shrink, box[1] // shrink, *whole.size)
    assert np.array_equal(np.asarray(part), np.asarray(whole.crop(cut)))


@pytest.mark.parametrize("shrink", [2, 4, 8])
def test_a_reduced_window_lies_where_the_whole_one_does(folder: Path, shrink: int) -> None:
    with Master.open(folder / "master.zip") as read:
        whole = read.window("grey", (0, 0, *SIZE_PX))
        small = read.window("grey", (0, 0, *SIZE_PX), shrink=shrink)
    difference = np.asarray(small, int) - np.asarray(whole.reduce(shrink), int)
    assert np.abs(difference).mean() < 2


def test_narrow_last_tiles_are_reduced_too(tmp_path: Path) -> None:
    taken_unread(saved(Image.linear_gradient("L").resize((1027, 517)), "PNG"), tmp_path)
    with Master.open(tmp_path / "master.zip") as read:
        assert read.window("grey", (0, 0, 1027, 517), shrink=8).size == (129, 65)
        assert read.window("grey", (1024, 512, 1027, 517), shrink=8).size == (1, 1)


def test_threads_get_the_same_and_little_is_kept(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(master, "CACHE_BYTES", 3_000_000)
    with Master.open(folder / "master.zip") as read:
        whole = np.asarray(read.window("colour", (0, 0, *SIZE_PX)))

        def matches(seed: int) -> bool:
            left, top = np.random.default_rng(seed).integers(0, 1000, 2)
            box = (int(left), int(top), int(left) + 900, int(top) + 400)
            part = np.asarray(read.window("colour", box))
            return np.array_equal(part, whole[box[1] : box[3], box[0] : box[2]])

        with ThreadPoolExecutor(4) as pool:
            assert all(pool.map(matches, range(60)))
        assert read._kept_bytes <= 3_000_000
        assert read._kept_bytes == sum(slot.kept_bytes for slot in read._slots.values())


def test_the_digest_tells_photos_apart(folder: Path, tmp_path: Path) -> None:
    taken_unread(saved(Image.new("RGB", (100, 100), "red"), "PNG"), tmp_path)
    with Master.open(folder / "master.zip") as one, Master.open(tmp_path / "master.zip") as other:
        assert len(one.digest) == 64
        assert one.digest != other.digest


def test_the_strongest_reduction_that_is_fine_enough(folder: Path) -> None:
    with Master.open(folder / "master.zip") as read:
        found = [read.shrink_for(pitch) for pitch in (0.4, 1.0, 1.99, 2.0, 3.9, 4.0, 7.9, 8.0, 50)]
    assert found == [1, 1, 1, 2, 2, 4, 4, 8, 8]
