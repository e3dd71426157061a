"""Patches: none without a place for the brush, and forms that are large enough left alone."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from scipy import ndimage
from skimage.morphology import octagon

from worker.picture.tones import regions
from worker.picture.tones.edge_preserving import FINE, Bytes, box_mean, guided_filter
from worker.picture.tones.regions import (
    dilated,
    fill_from_neighbours,
    merge_small_patches,
    remove_specks,
)

MEANS = np.array([20.0, 80.0, 140.0, 200.0])


def fine_of(tones: Bytes) -> np.ndarray[tuple[int, ...], np.dtype[np.uint16]]:
    return (MEANS[tones] * FINE).astype(np.uint16)


def widest(tones: Bytes) -> list[float]:
    """The widest place of every patch, in cells; beyond the picture it goes on."""
    found = []
    for tone in np.unique(tones):
        mask = tones == tone
        inside = ndimage.distance_transform_cdt(np.pad(mask, 50, mode="edge"), "taxicab")
        inside = inside[50:-50, 50:-50]
        patches, count = ndimage.label(mask)
        found += list(2 * ndimage.maximum(inside, patches, np.arange(1, count + 1)) - 1)
    return [float(each) for each in found]


def test_a_wall_of_texture_takes_little_more_than_its_cells() -> None:
    """Nearly every cell of grass or gravel goes to another patch.

    Sorting which are next took twice as many bytes, and most of the time.
    """
    rng = np.random.default_rng(5)
    tones = rng.integers(0, 4, (1500, 2000)).astype(np.uint8)
    tones[:100] = 1
    fine = fine_of(tones)
    tracemalloc.start()
    merge_small_patches(tones, fine, MEANS, 2)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 13 * tones.size


@pytest.mark.parametrize("reach", [1, 2, 3, 6])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_patch_is_narrower_than_the_brush(seed: int, reach: int) -> None:
    rng = np.random.default_rng(seed)
    blobs = ndimage.gaussian_filter(rng.normal(size=(160, 210)), 2.0)
    tones = np.digitize(blobs, np.quantile(blobs, [0.25, 0.5, 0.75])).astype(np.uint8)
    done = merge_small_patches(tones, fine_of(tones), MEANS, reach)
    assert min(widest(tones)) < 2 * reach + 1
    assert min(widest(done)) >= 2 * reach + 1


def test_large_forms_stay_and_specks_go() -> None:
    tones = np.ones((80, 80), np.uint8)
    tones[10:40, 10:40] = 3
    tones[60, 60] = tones[20:22, 20:22] = 0
    tones[50:52, 5:70] = 2
    done = merge_small_patches(tones, fine_of(tones), MEANS, 2)
    wanted = np.ones((80, 80), np.uint8)
    wanted[10:40, 10:40] = 3
    # A corner is rounded by the brush.
    assert np.count_nonzero(done != wanted) <= 4 * 3


def test_a_band_along_a_sharp_edge_goes_half_to_either_side() -> None:
    tones = np.repeat(np.array([0] * 20 + [1, 2] + [3] * 20, np.uint8)[np.newaxis], 30, axis=0)
    done = merge_small_patches(tones, fine_of(tones), MEANS, 2)
    assert np.array_equal(done, np.repeat(np.array([[0] * 21 + [3] * 21]), 30, axis=0))


@pytest.mark.parametrize("reach", [1, 2, 3, 5, 9])
def test_what_grows_grows_to_an_octagon(reach: int) -> None:
    dot = np.zeros((41, 41), np.bool_)
    dot[20, 20] = True
    squares = round(reach * 0.414)
    # scikit-image's octagon: sides of `m` and slants of `n` cells.
    wanted = octagon(2 * squares + 1, reach - squares).astype(bool)
    assert np.array_equal(
        dilated(dot, reach)[20 - reach : 21 + reach, 20 - reach : 21 + reach], wanted
    )


def test_without_a_brush_all_is_left_as_it_is() -> None:
    noise = np.random.default_rng(4).integers(0, 4, (30, 30)).astype(np.uint8)
    assert np.array_equal(merge_small_patches(noise, fine_of(noise), MEANS, 0), noise)


def test_where_no_brush_fits_anywhere_one_tone_is_left() -> None:
    stripes = np.zeros((60, 60), np.uint8)
    stripes[::2] = 2
    done = merge_small_patches(stripes, fine_of(stripes), MEANS, 3)
    # Half of 20 and half of 140 is 80.
    assert np.all(done == 1)


def test_box_means_are_those_of_scipy() -> None:
    values = np.random.default_rng(5).random((40, 30)).astype(np.float32)
    theirs = ndimage.uniform_filter(values.astype(np.float64), 7, mode="nearest")
    assert box_mean(values, 3) == pytest.approx(theirs, abs=1e-5)


def test_grain_goes_and_edges_stay() -> None:
    rng = np.random.default_rng(6)
    edge = np.where(np.arange(120) < 60, 60.0, 180.0)[np.newaxis].repeat(90, axis=0)
    noisy = np.clip(edge + rng.normal(0, 6, edge.shape), 0, 255).astype(np.uint8)
    soft = guided_filter(noisy, 4, 20.0).astype(np.float64) / FINE
    assert soft[:, 10:50].std() < 1.5
    # Between two cells at the edge nearly the whole step is left.
    assert np.abs(soft[:, 60] - soft[:, 59]).mean() > 100


def test_strips_do_not_show() -> None:
    grey = np.random.default_rng(7).integers(0, 256, (700, 900)).astype(np.uint8)
    whole, part = guided_filter(grey, 5, 20.0), guided_filter(grey[:350], 5, 20.0)
    assert np.array_equal(whole[:330], part[:330])


def plainly_filled(tones: Bytes, kept: np.ndarray, greys: np.ndarray) -> Bytes:
    """Round by round over all cells, one at a time: what growing patches must come to."""
    now = np.where(kept, tones, 255)
    while (now == 255).any():
        before = now.copy()
        for row, column in np.argwhere(before == 255).tolist():
            beside = [(row - 1, column), (row, column - 1), (row, column + 1), (row + 1, column)]
            near = [
                before[place]
                for place in beside
                if 0 <= place[0] < now.shape[0] and 0 <= place[1] < now.shape[1]
            ]
            there = [tone for tone in near if tone != 255]
            if there:
                now[row, column] = min(
                    there, key=lambda tone: abs(MEANS[tone] - greys[row, column])
                )
    return now.astype(np.uint8)


def test_a_field_without_patches_is_filled_from_its_edges() -> None:
    tones = np.indices((24, 40))[1].astype(np.uint8) // 2 % 2 * 3
    tones[:7, :9], tones[-8:, -12:] = 1, 2
    fine = fine_of(tones)
    kept = np.zeros(tones.shape, np.bool_)
    kept[:7, :9] = kept[-8:, -12:] = True
    done = fill_from_neighbours(tones, kept, fine, MEANS)
    assert np.array_equal(done, plainly_filled(tones, kept, fine / FINE))


def test_a_wide_field_is_not_looked_at_in_every_round(monkeypatch: pytest.MonkeyPatch) -> None:
    tones = np.indices((300, 300))[1].astype(np.uint8) % 2 * 3
    tones[:20, :20] = 1
    looked_at: list[int] = []
    next_to = regions.Padded.next_to

    def counted(edge: regions.Padded, place: np.ndarray, *state: np.ndarray) -> np.ndarray:
        looked_at.append(place.size)
        return next_to(edge, place, *state)

    monkeypatch.setattr(regions.Padded, "next_to", counted)
    merge_small_patches(tones, fine_of(tones), MEANS, 6)
    assert len(looked_at) > 280
    # Each cell is filled once for each brush at the most.
    assert sum(looked_at) <= tones.size * 8


def test_where_no_brush_fits_anywhere_dust_is_left() -> None:
    tones = np.indices((30, 40))[1].astype(np.uint8) % 2 * 3
    assert np.array_equal(remove_specks(tones, 2, 6), tones)
