"""The thresholds against scikit-image's multi-Otsu, and against all combinations."""

from __future__ import annotations

import functools
import itertools

import numpy as np
import numpy.typing as npt
import pytest
from skimage.color import rgb2gray
from skimage.filters import threshold_multiotsu, threshold_otsu

from tests.folded import fold
from tests.pictures.photographs import NAMES, photograph
from worker.picture.tones.otsu import multi_otsu

Counts = npt.NDArray[np.int64]


@functools.cache
def grey_of(name: str) -> npt.NDArray[np.uint8]:
    """Not for all of them here: whoever only collects tests would wait for it."""
    photo = photograph(name)
    return photo if photo.ndim == 2 else np.rint(rgb2gray(photo) * 255).astype(np.uint8)


def between_classes(histogram: Counts, lasts: tuple[int, ...]) -> float:
    """The between-class variance (Liao, Chen and Chung 2001, equation 6)."""
    share = histogram / histogram.sum()
    grey = np.arange(len(histogram))
    whole, total = float(share @ grey), 0.0
    for start, end in itertools.pairwise([0, *(last + 1 for last in lasts), len(histogram)]):
        weight = float(share[start:end].sum())
        if weight > 0:
            mean = float(share[start:end] @ grey[start:end]) / weight
            total += weight * (mean - whole) ** 2
    return total


def histogram_of(grey: npt.NDArray[np.uint8]) -> Counts:
    return np.bincount(grey.reshape(-1), minlength=256)


# scikit-image tries all combinations: with five classes that takes seconds, with seven years.
@fold(("classes", [2, 3, 4]), ("name", sorted(NAMES)))
def test_it_parts_photographs_as_scikit_image_does(name: str, classes: int) -> None:
    grey = grey_of(name)
    histogram = histogram_of(grey)
    ours = multi_otsu(histogram, classes)
    if classes == 2:
        theirs = (int(threshold_otsu(grey)),)
    else:
        theirs = tuple(int(each) for each in threshold_multiotsu(grey, classes))
    # Where bins between two classes are empty, every threshold among them parts alike.
    near = np.abs(np.subtract(ours, theirs)).max() <= 1
    same = between_classes(histogram, ours) == pytest.approx(
        between_classes(histogram, theirs), rel=1e-6
    )
    assert near or same
    assert between_classes(histogram, ours) >= between_classes(histogram, theirs) * (1 - 1e-9)


@pytest.mark.parametrize("classes", [5, 6, 7])
def test_it_parts_a_coarse_histogram_as_scikit_image_does(classes: int) -> None:
    # In 24 greys all combinations are soon tried.
    coarse = (grey_of("astronaut") // 11).astype(np.uint8)
    histogram = np.bincount(coarse.reshape(-1), minlength=24)
    ours = multi_otsu(histogram, classes)
    theirs = tuple(int(each) for each in threshold_multiotsu(coarse, classes, nbins=24))
    # Its table counts bins from one, so that some of its classes reach a bin too far.
    assert np.abs(np.subtract(ours, theirs)).max() <= 1
    assert between_classes(histogram, ours) >= between_classes(histogram, theirs)


@fold(("seed", range(12)), ("classes", [2, 3, 5, 7]))
def test_no_other_parting_is_better(seed: int, classes: int) -> None:
    rng = np.random.default_rng(seed)
    histogram = rng.integers(0, 50, 13) * rng.integers(0, 2, 13)
    histogram[4] += 1
    ours = multi_otsu(histogram, classes)
    assert list(ours) == sorted(set(ours))
    best = max(
        between_classes(histogram, lasts)
        for lasts in itertools.combinations(range(12), classes - 1)
    )
    assert between_classes(histogram, ours) == pytest.approx(best, rel=1e-12, abs=1e-12)


def test_one_grey_is_parted_too() -> None:
    histogram = np.zeros(256, np.int64)
    histogram[200] = 9
    assert len(multi_otsu(histogram, 7)) == 6
