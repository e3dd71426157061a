"""What tones are printed in: told apart, in order, and the paper the lightest."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import rgb2lab

from worker.picture.tones.printed_greys import STEP_L, class_means, grey_of, lightness, print_greys


def test_lightness_is_that_of_scikit_image() -> None:
    greys = np.arange(256, dtype=np.float64)
    theirs = rgb2lab(np.repeat(greys[:, np.newaxis], 3, axis=1) / 255)[:, 0]
    assert lightness(greys) == pytest.approx(theirs, abs=0.02)
    assert grey_of(lightness(greys)) == pytest.approx(greys, abs=1e-6)


def test_a_value_step_is_where_munsell_has_it() -> None:
    # Munsell value 5 reflects 19.27 % against magnesium oxide's 97.5 %: 18.8 % or 19.8 %
    # (ASTM D1535); L* of 0.1927 is 51.0.
    grey = grey_of(np.array([50.0]))
    assert 117 <= grey[0] <= 120  # sRGB 119 is the mid grey of L* 50 (common practice).


@given(st.lists(st.floats(0, 255), min_size=3, max_size=7).map(sorted))
def test_tones_rise_by_steps_that_are_told_apart(means: list[float]) -> None:
    greys = print_greys(np.array(means))
    assert greys[-1] == 255
    steps = np.diff(lightness(np.array(greys, np.float64)))
    # Each end of a step may lose half a grey to whole numbers: some 0.2 L*.
    assert steps.min() >= STEP_L - 0.5
    assert greys[0] >= 0


def test_intervals_of_light_are_kept() -> None:
    means = grey_of(np.array([20.0, 40.0, 50.0, 80.0]))
    greys = np.array(print_greys(means), np.float64)
    # From 20 to 80 stretched to 20 to 100.
    assert lightness(greys) == pytest.approx([20, 46.67, 60, 100], abs=0.4)


def test_means_are_those_of_the_classes() -> None:
    histogram = np.zeros(256, np.int64)
    histogram[[10, 20, 100]] = [1, 3, 5]
    assert class_means(histogram, (50.5, 150.5)) == pytest.approx([17.5, 100.0, 203.0], abs=0.3)
