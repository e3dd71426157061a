"""How far values are lightened, style by style."""

from __future__ import annotations

import pytest

from worker.spec.spec import Tone
from worker.spec.tone_curve import tone_curve


@pytest.mark.parametrize("lighten", [0.0, 0.4, 1.0])
def test_lightening_goes_on_from_where_a_style_starts(lighten: float) -> None:
    """A traced grey takes 65 % of the ink for black; at full strength it takes all."""
    starts = {
        Tone(lighten=lighten): 0.35,
        Tone(full_strength=True, lighten=lighten): 0.0,
        Tone(style="mixed", lighten=lighten): 0.65,
        Tone(style="colour", lighten=lighten): 0.0,
        Tone(style="values", lighten=lighten): 0.0,
    }
    for tone, start in starts.items():
        curve = tone_curve(tone)
        assert curve[0] == round(255 * (start + (1 - start) * lighten))
        assert curve[255] == 255


def test_no_contrast_prints_more_than_the_darkest_of_a_traced_grey() -> None:
    assert tone_curve(Tone(contrast=1.0)).min() == tone_curve(Tone()).min() == 89
