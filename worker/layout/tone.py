"""How a grey value is printed: one curve, used by imaging and by the ink estimate alike."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from worker.layout.spec import Tone


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
    lightened = turned + (255.0 - turned) * tone.lighten
    return np.rint(lightened).astype(np.uint8)
