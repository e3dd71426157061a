"""Patches: numbered as an outside library numbers them, and none too small."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from scipy import ndimage

from worker.picture.tones.patches import components, first_cells, merge_small_areas

Bytes = npt.NDArray[np.uint8]
MEANS = np.array([20.0, 80.0, 140.0, 220.0])


def blotches(seed: int) -> Bytes:
    """Four tones in patches of all sizes."""
    noise = np.random.default_rng(seed).normal(size=(90, 130))
    smooth = ndimage.gaussian_filter(noise, 2.0)
    edges = np.quantile(smooth, [0.25, 0.5, 0.75])
    return np.digitize(smooth, edges).astype(np.uint8)


def merged(tones: Bytes, least: float, regions: npt.NDArray[np.uint16] | None = None) -> Bytes:
    fine = (MEANS[tones] * 256).astype(np.uint16)
    sides = np.zeros(tones.shape, np.uint16) if regions is None else regions
    return merge_small_areas(tones, sides, fine, MEANS, least)[0]


@pytest.mark.parametrize("seed", range(4))
def test_what_is_connected_is_what_scipy_connects(seed: int) -> None:
    tones = blotches(seed)
    labels, count = components(tones)
    assert count == sum(ndimage.label(tones == tone)[1] for tone in range(4))
    for tone in range(4):
        theirs, _ = ndimage.label(tones == tone)
        inside = theirs > 0
        pairs = np.unique(np.stack([labels[inside], theirs[inside]]), axis=1)
        assert len(np.unique(pairs[0])) == len(np.unique(pairs[1])) == pairs.shape[1]
    first = first_cells(labels, count)
    assert first.tolist() == [int(np.flatnonzero(labels == each)[0]) for each in range(count)]


@pytest.mark.parametrize("seed", range(4))
def test_no_patch_is_smaller_than_asked(seed: int) -> None:
    tones = blotches(seed)
    areas = [
        np.bincount(ndimage.label(kept == tone)[0].ravel())[1:]
        for kept in (tones, merged(tones, 100.0))
        for tone in range(4)
    ]
    assert min(each.min() for each in areas[:4] if len(each)) < 100
    assert min(each.min() for each in areas[4:] if len(each)) >= 100


def test_a_small_patch_joins_the_tone_nearest_to_its_own() -> None:
    tones = np.zeros((40, 40), np.uint8)
    tones[:, 20:] = 3
    tones[18:22, 18:22] = 2
    assert np.all(merged(tones, 50.0)[18:22, 18:22] == 3)


def test_a_small_patch_stays_on_its_side_of_a_contour() -> None:
    tones = np.zeros((40, 40), np.uint8)
    tones[:, 20:] = 2
    tones[18:22, 16:20] = 1
    assert np.all(merged(tones, 50.0)[18:22, 16:20] == 0)
    regions = np.zeros(tones.shape, np.uint16)
    regions[18:22, 16:20] = regions[:, 20:] = 1
    assert np.all(merged(tones, 50.0, regions)[18:22, 16:20] == 2)


def test_a_neck_of_one_cell_holds_nothing_together() -> None:
    tones = np.zeros((40, 60), np.uint8)
    tones[5:35, 5:35] = 3
    tones[10:14, 45:49] = 3
    tones[12, 35:45] = 3
    kept = merged(tones, 100.0)
    assert np.all(kept[10:14, 45:49] == 0)
    assert np.all(kept[5:35, 5:35] == 3)


def test_a_cell_that_hangs_by_one_side_goes_to_who_is_around() -> None:
    tones = np.zeros((300, 40), np.uint8)
    tones[100:, :] = 2
    # Across the rows that are looked at together, and in the middle of some.
    tones[99, 7] = 2
    tones[256:, :20] = 1
    tones[255, 10] = 1
    there = merged(tones, 10.0)
    assert there[99, 7] == 0
    assert there[255, 10] == 2
    # A corner hangs by two sides.
    assert there[256, 19] == 1
