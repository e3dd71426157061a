"""Regions of a picture, grown by merging neighbours while that costs little.

The energy is that of Mumford and Shah for values that are constant in each region: their variance
within regions, and the length of the borders between. Two regions merge where that saves more
length, times a scale, than it adds variance (Koepfler, Lopez and Morel 1994, "A multiscale
algorithm for image segmentation by variational method"). A border costs less where contours are
seen along it (Caselles, Kimmel and Sapiro 1997, "Geodesic active contours"). All pairs of which
each is the other's best merge at once, and specks with the ground that they lie on; so there are
few rounds, and in noise no more than some.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from worker.reading.planes import Floats

Doubles = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

#: A border costs less by this part where a contour is certain.
_CHEAPER = 0.9
#: Regions of so few squares merge with one of so many whatever that would rather.
_SPECK, _GROUND = 2, 100
#: So many rounds there are at most at a scale, of which photographs take 20 to 100.
_ROUNDS = 500


@dataclass(frozen=True, kw_only=True, eq=False)
class Regions:
    """Regions and their neighbours.

    Attributes:
        mean: (regions, values) of each.
        size: Its squares.
        one, two: Pairs of neighbours, each once.
        border: What their border costs.
    """

    mean: Doubles
    size: Doubles
    one: Ints
    two: Ints
    border: Doubles

    @classmethod
    def squares(cls, values: Floats, contour: Floats) -> Regions:
        """Each square of a grid as a region.

        Args:
            values: (rows, columns, values) to tell regions by.
            contour: (rows, columns) how likely a contour passes through each square.
        """
        rows, columns = contour.shape
        at = np.arange(rows * columns).reshape(rows, columns)
        seen = (np.maximum(contour[:, 1:], contour[:, :-1]), np.maximum(contour[1:], contour[:-1]))
        cost = 1 - _CHEAPER * np.concatenate([each.ravel() for each in seen]).astype(np.float64)
        return cls(
            mean=values.reshape(rows * columns, -1).astype(np.float64),
            size=np.ones(rows * columns),
            one=np.concatenate((at[:, :-1].ravel(), at[:-1].ravel())),
            two=np.concatenate((at[:, 1:].ravel(), at[1:].ravel())),
            border=cost,
        )

    def merged(self, scale: float) -> tuple[Regions, Ints]:
        """Regions whose neighbours do not merge at a scale, and which of them each region is in."""
        regions, number = self, np.arange(len(self.size))
        for _ in range(_ROUNDS):
            new = regions._best_merged(scale)
            if new is None:
                break
            number, regions = new[number], regions._numbered(new)
        return regions, number

    def _best_merged(self, scale: float) -> Ints | None:
        """A new number for each region, the same for those that merge; None if none does."""
        apart = self.mean[self.one] - self.mean[self.two]
        one, two = self.size[self.one], self.size[self.two]
        cost = one * two / (one + two) * np.einsum("ij,ij->i", apart, apart) / self.border
        least = np.full(len(self.size), scale)
        np.minimum.at(least, self.one, cost)
        np.minimum.at(least, self.two, cost)
        first, second = cost <= least[self.one], cost <= least[self.two]
        speck = first & (one <= _SPECK) & (two >= _GROUND)
        speck |= second & (two <= _SPECK) & (one >= _GROUND)
        merge = (cost < scale) & (first & second | speck)
        if not merge.any():
            return None
        into = np.arange(len(self.size))
        np.minimum.at(into, self.two[merge], self.one[merge])
        while not np.array_equal(into, into[into]):
            into = into[into]
        # Numbers in order, by a table: sorting takes far longer.
        used = np.zeros(len(into), bool)
        used[into] = True
        return np.asarray((np.cumsum(used) - 1)[into])

    def _numbered(self, new: Ints) -> Regions:
        size = np.bincount(new, self.size).astype(np.float64)
        sums = [np.bincount(new, self.size * value) for value in self.mean.T]
        one, two = new[self.one], new[self.two]
        apart = one != two
        low, high = np.minimum(one, two)[apart], np.maximum(one, two)[apart]
        pair, of = np.unique(low * len(size) + high, return_inverse=True)
        return Regions(
            mean=np.stack(sums, axis=1) / size[:, None],
            size=size,
            one=pair // len(size),
            two=pair % len(size),
            border=np.bincount(of, self.border[apart], len(pair)).astype(np.float64),
        )
