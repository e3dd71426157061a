"""The bench that holds renderers against each other sees what it is for, and nothing of edges."""

import numpy as np
import pytest

from tests.bench.renderers import different, largest_patch

#: A hairline of 0.18 mm has two pixels at 300 to the inch.
HAIR_PX = 2


@pytest.fixture
def page() -> np.ndarray:
    """Paper with a patch of grey and a hairline."""
    drawn = np.full((120, 120), 255, np.uint8)
    drawn[20:60, 20:60] = 128
    drawn[80 : 80 + HAIR_PX, 10:110] = 0
    return drawn


def test_pages_that_are_alike_do_not_differ(page: np.ndarray) -> None:
    assert not different(page, page).any()


def test_a_hairline_that_is_missing_differs(page: np.ndarray) -> None:
    bare = page.copy()
    bare[80 : 80 + HAIR_PX] = 255
    assert largest_patch(different(page, bare)) == HAIR_PX * 100


def test_another_tone_differs(page: np.ndarray) -> None:
    paler = page.copy()
    paler[30:40, 30:40] += 30
    assert 60 < largest_patch(different(page, paler)) <= 100


def test_edges_a_pixel_off_or_softened_do_not_differ(page: np.ndarray) -> None:
    wide = page.copy()
    wide[80 + HAIR_PX, 10:110] = 0
    soft = page.copy()
    soft[79, 10:110] = soft[80 + HAIR_PX, 10:110] = 128
    for other in (wide, soft, np.roll(page, 1, axis=0), np.roll(page, 1, axis=1)):
        assert not different(page, other).any()
