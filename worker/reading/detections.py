"""Where faces are in one square view: BlazeFace, full range.

The network is the one published for it (Bazarevsky and others, BlazeFace, 2019; weights of the
npm package `@mediapipe/face_detection`), with the sizes and thresholds published beside it. What
it says of a face's points is used to find eyes and the way up, and is kept nowhere.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from worker.reading.network import Network, Weights
from worker.reading.planes import Floats, Planes, largest, second
from worker.reading.stored import stored_weights

#: The side of the view that the network takes.
VIEW_PX = 192
#: One place to look at for each of so many pixels, across and down.
_STRIDE_PX = 4
#: From here on it is a face, and faces that share more than this of their area are one.
_LIKELY = 0.6
_SAME = 0.3
#: Blocks on the way down and up again.
_DOWN, _UP = (2, 3, 3, 3, 4), (2, 2, 1)
#: Odds beyond this are as good as certain; their powers would be too large for numbers.
_MOST_ODDS = 100


@dataclass(frozen=True, kw_only=True)
class Detection:
    """A face in a view or picture, in its pixels.

    Attributes:
        likely: 0 to 1.
        values: Left, top, right, bottom; then across and down of the eyes, the nose's tip, the
            mouth, and the two ears.
    """

    likely: float
    values: Floats

    def overlap(self, other: Detection) -> float:
        """The area of both as a share of the area of either."""
        start = np.maximum(self.values[:2], other.values[:2])
        stop = np.minimum(self.values[2:4], other.values[2:4])
        both = float(np.prod(np.maximum(stop - start, 0)))
        return both / max(self.area() + other.area() - both, 1e-6)

    def side(self) -> float:
        """Of the box, which is nearly square."""
        return float(np.mean(self.values[2:4] - self.values[:2]))

    def area(self) -> float:
        """Of the box."""
        return float(np.prod(self.values[2:4] - self.values[:2]))


@cache
def face_weights() -> Weights:
    """Of the network; `weights/NOTICE-faces.txt` says where from."""
    return stored_weights("faces.npz.xz")


def detected(view: Floats, threads: int) -> list[Detection]:
    """Faces in a view (192, 192, 3) of −1 to 1, from likely to less likely."""
    odds, places = face_outputs(face_weights(), view, threads)
    likely = 1 / (1 + np.exp(-np.clip(odds, -_MOST_ODDS, _MOST_ODDS)))
    which = np.flatnonzero(likely >= _LIKELY)
    which = which[np.argsort(-likely[which], kind="stable")]
    return merged(
        [
            Detection(likely=float(likely[place]), values=_values(places[:, place], int(place)))
            for place in which
        ]
    )


def _values(raw: Floats, place: int) -> Floats:
    """What is said at a place, in pixels of the view: distances are from the place's middle."""
    down, across = divmod(place, VIEW_PX // _STRIDE_PX)
    middle = (np.array([across, down], np.float32) + np.float32(0.5)) * _STRIDE_PX
    pairs = raw.reshape(-1, 2)
    centre, half = pairs[0] + middle, pairs[1] / 2
    return np.concatenate([centre - half, centre + half, (pairs[2:] + middle).ravel()])


def merged(found: list[Detection]) -> list[Detection]:
    """Means of those that are one face, weighed by how likely each is."""
    left, faces = list(found), []
    while left:
        best = left[0]
        same = [one for one in left if one is best or one.overlap(best) > _SAME]
        left = [one for one in left if not any(one is other for other in same)]
        weights = np.array([one.likely for one in same], np.float32)
        values = np.average([one.values for one in same], axis=0, weights=weights)
        faces.append(Detection(likely=best.likely, values=np.asarray(values, np.float32)))
    return faces


def face_outputs(weights: Weights, view: Floats, threads: int = 2) -> tuple[Floats, Floats]:
    """What the network says: log odds (places,), and (16, places) in pixels."""
    with ThreadPoolExecutor(threads) as pool:
        network = Network(weights, pool, threads)
        x = Planes.of(view.transpose(2, 0, 1))
        x = network.convolved("stem", x, halve=True)
        kept = []
        for stage, blocks in enumerate(_DOWN):
            for block in range(blocks):
                halve = stage > 0 and block == 0
                x = _block(network, f"down.{stage}.{block}", x, halve=halve)
            kept.append(x)
        x = kept.pop()
        for stage, blocks in enumerate(_UP):
            below = network.convolved(f"up.{stage}.below", x)
            x = network.convolved(f"up.{stage}.beside", kept.pop())
            x = Planes.of(x.inner + doubled(below.inner))
            for block in range(blocks):
                x = _block(network, f"up.{stage}.{block}", x, halve=False)
        odds = network.convolved("score", x, rectify=False).inner
        places = network.convolved("place", x, rectify=False).inner
    return odds.reshape(-1), places.reshape(len(places), -1)


def _block(network: Network, name: str, x: Planes, *, halve: bool) -> Planes:
    """Two convolutions by plane and two over planes, added to what went in."""
    y = network.convolved_each(f"{name}.first", x)
    if halve:
        y, x = second(y), largest(x)
    y = network.convolved(f"{name}.narrow", y)
    y = network.convolved_each(f"{name}.second", y)
    y = network.convolved(f"{name}.widen", y, rectify=False)
    network.over_planes(y, partial(_add, y, x))
    return y


def _add(total: Planes, x: Planes, planes: slice) -> None:
    """Add those planes that there are, and cut off what is below zero."""
    sums = total.flat[planes]
    more = x.flat[planes]
    sums[: len(more)] += more
    np.maximum(sums, 0, out=sums)


def doubled(inner: Floats) -> Floats:
    """Enlarged to twice the size, linear between the middles of places."""
    return _doubled_along(_doubled_along(inner, 1), 2)


def _doubled_along(inner: Floats, axis: int) -> Floats:
    first, last = inner.take([0], axis), inner.take([-1], axis)
    count = inner.shape[axis]
    padded = np.concatenate([first, inner, last], axis)
    before, after = padded.take(range(count), axis), padded.take(range(2, count + 2), axis)
    pair = np.stack([inner * 0.75 + before * 0.25, inner * 0.75 + after * 0.25], axis + 1)
    shape = [*inner.shape]
    shape[axis] *= 2
    return np.asarray(pair.reshape(shape), np.float32)
