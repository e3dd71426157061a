"""How much ink a picture takes, estimated from the study: no line is traced for it.

A plan must be ready while a finger moves on the page, and tracing lines takes longer. The
estimate for lines was fitted to the strokes of a dozen photographs (those in scikit-image and
scikit-learn, at two pixel counts, three sizes and five settings of detail), its amount and its
growth with detail to those of six that are drawn by what is read in them: most are within a
factor of 1.8; a test holds it to that. Lines ink some two percent of the paper where a grey
picture inks fifty. Estimates of values are within two percent of the paper, seldom six.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from worker.spec.dark_lift import lift_curve
from worker.spec.spec import Outline, Spec
from worker.spec.study import PictureDetail, PictureFrame, ReferenceStudy, lift_over, tones_over
from worker.spec.tone_curve import tone_curve

#: Logarithms of coverage per millimetre of line weight: at no detail, for detail and its
#: square, for line density (the detail map's, mm for mm²) and for steep places (per mm).
_AT_LEAST, _DETAIL, _DETAIL_SQUARED, _DENSITY, _STEEP = -2.52, 2.28, -0.81, 0.133, 0.552
#: A place of the reduced picture is steep where it changes by more than this, of 255.
_STEEP_STEP = 12.0
#: A picture without any line still has a logarithm.
_LEAST_DENSITY = 1e-5
#: No outline covers more than this.
_MOST_LINE = 0.3
#: Rounds in which the tones' means and borders settle.
_ROUNDS = 12

Tones = npt.NDArray[np.float64]


def mean_coverage(
    spec: Spec, study: ReferenceStudy, frame: PictureFrame, detail: PictureDetail
) -> float:
    """Mean share of ink: in DeviceGray black ink is one less the grey (ISO 32000-1, 10.3.2).

    The clause number is from memory.
    """
    tones = tones_over(study, frame)
    grey = tones.round().astype("uint8")
    curve = tone_curve(spec.tone)
    printed = curve[grey]
    if spec.tone.lifted:
        share = lift_over(study, frame) * spec.tone.lifted
        lifted = curve[lift_curve()[grey]]
        printed = (printed * (1.0 - share) + lifted * share).round().astype("uint8")
    below = float(1.0 - printed.mean() / 255.0)
    if spec.tone.style == "values":
        return values_coverage(printed, spec.tone.values.count, spec.tone.values.thresholds)
    if not spec.tone.lined:
        return below
    drawn = lines_coverage(tones, frame, detail, spec.tone.outline)
    return drawn if spec.tone.style == "outline" else below + (1.0 - below) * drawn


def lines_coverage(
    tones: Tones, frame: PictureFrame, detail: PictureDetail, outline: Outline
) -> float:
    """Share of the paper that lines to trace cover.

    What is line at the scale of a pen counts, and what is steep in the reduced picture:
    great forms are drawn first.
    """
    density = detail.total_mm / (frame.width_mm * frame.height_mm)
    slopes = np.gradient(tones) if min(tones.shape) > 1 else (np.zeros(1), np.zeros(1))
    steep = float((np.hypot(*slopes) > _STEEP_STEP).mean()) / (frame.width_mm / tones.shape[1])
    logarithm = (
        _AT_LEAST
        + _DETAIL * outline.detail
        + _DETAIL_SQUARED * outline.detail**2
        + _DENSITY * math.log(max(density, _LEAST_DENSITY))
        + _STEEP * math.log(max(steep, _LEAST_DENSITY))
    )
    return min(outline.line_mm * math.exp(logarithm), _MOST_LINE)


def values_coverage(
    printed: npt.NDArray[np.uint8], count: int, thresholds: tuple[float, ...] | None
) -> float:
    """Share of ink of a picture in values.

    Where thresholds are not given, means and borders of the tones are settled by turns
    (Lloyd 1982), which ends at Otsu's or near. Greys are stretched until the lightest tone
    is the paper, as they are when they are printed; steps of grey in sRGB are near enough
    to steps of lightness.

    Args:
        printed: Grey values of the reduced picture, as the tone curve leaves them.
        count: How many tones.
        thresholds: Where one ends and the next begins, in shares; None finds them.
    """
    shares = np.bincount(printed.reshape(-1), minlength=256) / printed.size
    borders = tone_borders(printed, count, thresholds)
    weights, means = _classes(shares, borders)
    span = max(means[-1] - means[0], 1.0)
    greys = means[0] + (means - means[0]) * (255.0 - means[0]) / span
    return float(1.0 - weights @ greys / 255.0)


def tone_borders(
    printed: npt.NDArray[np.uint8], count: int, thresholds: tuple[float, ...] | None
) -> Tones:
    """Between which greys one tone ends and the next begins; arguments as `values_coverage`."""
    if thresholds is not None:
        return np.asarray(thresholds) * 255.0
    shares = np.bincount(printed.reshape(-1), minlength=256) / printed.size
    there = np.flatnonzero(shares)
    borders = np.linspace(there[0], there[-1], count + 1)[1:-1]
    for _ in range(_ROUNDS):
        _, means = _classes(shares, borders)
        borders = (means[:-1] + means[1:]) / 2
    return borders


def _classes(shares: Tones, borders: Tones) -> tuple[Tones, Tones]:
    """How much of the picture each tone takes, and its mean grey; empty ones lie between."""
    grey = np.arange(256)
    number = np.searchsorted(borders, grey)
    count = len(borders) + 1
    weights = np.bincount(number, shares, minlength=count).astype(np.float64)
    sums = np.bincount(number, shares * grey, minlength=count).astype(np.float64)
    ends = np.concatenate(([0.0], borders, [255.0]))
    middle = (ends[:-1] + ends[1:]) / 2
    return weights, np.where(weights > 0, sums / np.maximum(weights, 1e-12), middle)
