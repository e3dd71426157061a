"""The tone curve: how a grey value is printed. Pieces and the ink estimate use the same one."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.spec.spec import Tone

#: How far the grey below the lines of `mixed` is on its way to white before `lighten` counts:
#: far enough that 0.18 mm of black line reads on its darkest place.
MIXED_LIGHTENED = 0.65
#: The same of a grey that is not printed at full strength: its black takes 65 % of the ink. A pen
#: line reads on that, and on more it does not (common practice).
GREY_LIGHTENED = 0.35


def lightening(tone: Tone) -> float:
    """How far every value is lightened, from 0 (unchanged) to 1 (paper white).

    Below lines to trace (`mixed`) the grey only shows what they belong to: it starts at 0.65.
    A grey that is traced itself starts at 0.35, or at full strength at 0. `lighten` goes on from
    there to white.
    """
    begins = MIXED_LIGHTENED if tone.style == "mixed" else 0.0
    if tone.style == "grey" and not tone.full_strength:
        begins = GREY_LIGHTENED
    return begins + (1.0 - begins) * tone.lighten


def tone_curve(tone: Tone) -> npt.NDArray[np.uint8]:
    """The printed value, 0 to 255, of each of the 256 grey values.

    Contrast turns the line about mid grey: slope 1 + contrast, clipped. Lightening then
    moves every value the same share of its way to paper white, so that the order of values
    is kept and the darkest ones spare most ink.

    Returns:
        (256,) uint8, never falling.
    """
    values = np.arange(256, dtype=np.float64)
    turned = np.clip(127.5 + (values - 127.5) * (1.0 + tone.contrast), 0.0, 255.0)
    lightened = turned + (255.0 - turned) * lightening(tone)
    return np.rint(lightened).astype(np.uint8)
