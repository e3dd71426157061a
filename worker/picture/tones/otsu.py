"""Multi-Otsu: thresholds that divide a picture's greys into classes.

They maximise the between-class variance of the histogram (Otsu 1979; for several classes Liao,
Chen and Chung 2001, whose tables of zeroth and first moments are used here). The optimum is
exact, by dynamic programming over the bins: a few tables of 256 × 256 instead of all
combinations, of which seven classes have 3.6 × 10¹¹. scikit-image's `threshold_multiotsu`,
against which the tests compare, is off by a bin at times.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def multi_otsu(
    histogram: npt.NDArray[np.int64], classes: int, cost: Floats | None = None
) -> tuple[int, ...]:
    """The last bin of each class but the highest.

    Args:
        histogram: (bins,) counts.
        classes: At least 2. Where fewer bins hold anything, some classes stay empty.
        cost: (bins + 1, bins + 1) what a class from bin i up to, but without, bin j takes away
            besides, in shares of the whole variance; None: nothing.

    Returns:
        `classes - 1` bins, ascending; among equally good ones, the lowest.
    """
    spread = _spread(histogram)
    if cost is not None:
        spread -= cost * _variance(histogram)
    bins = len(histogram)
    # best[i]: the most that the classes so far make of the bins below i.
    best, parted = spread[0], []
    for _ in range(classes - 1):
        totals = best[:, np.newaxis] + spread
        start = np.argmax(totals, axis=0)
        parted.append(start)
        best = totals[start, np.arange(bins + 1)]
    return _walked_back(parted, bins)


def _variance(histogram: npt.NDArray[np.int64]) -> float:
    bins = np.arange(len(histogram))
    share = histogram / max(int(histogram.sum()), 1)
    return float(share @ bins**2 - (share @ bins) ** 2)


def _walked_back(parted: list[npt.NDArray[np.intp]], bins: int) -> tuple[int, ...]:
    """Where each class begins, from the last one down, as the last bins of those before."""
    lasts: list[int] = []
    end = bins
    for start in reversed(parted):
        end = int(start[end])
        lasts.append(end - 1)
    return tuple(reversed(lasts))


def _spread(histogram: npt.NDArray[np.int64]) -> Floats:
    """What a class from bin i up to, but without, bin j adds to the variance between classes.

    The square of the first moment over the zeroth; what all classes together add less the
    square of the whole mean is the between-class variance (Liao, Chen and Chung 2001, eq. 9).

    Returns:
        (bins + 1, bins + 1); minus infinity where a class would have no bin at all.
    """
    bins = len(histogram)
    share = histogram / max(int(histogram.sum()), 1)
    zeroth = np.concatenate([[0.0], np.cumsum(share)])
    first = np.concatenate([[0.0], np.cumsum(share * np.arange(bins))])
    weight = zeroth[np.newaxis, :] - zeroth[:, np.newaxis]
    moment = first[np.newaxis, :] - first[:, np.newaxis]
    spread: Floats = np.zeros((bins + 1, bins + 1))
    np.divide(moment * moment, weight, out=spread, where=weight > 0)
    spread[np.tril_indices(bins + 1)] = -np.inf
    return spread
