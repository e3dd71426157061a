"""Landmarks of a face in square views of it: a mesh over the face, lips and an eye again.

The network is the one published as attention mesh (Grishchenko and others, 2020; weights of the
npm package `@mediapipe/face_mesh`). A trunk says roughly where everything is; then lips and the
right eye are cut out of what it has seen early, straightened, and looked at more closely. The
published network has a branch for the left eye too; here the mirrored view has its turn instead
(`worker.reading.landmarks`), and of the mesh only `COARSE` is stored, without depths. So the file
is half as large.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, partial

import numpy as np
import numpy.typing as npt

from worker.reading.landmark_numbers import COARSE, COUNT, LIPS, RIGHT_EYE, RIGHT_IRIS
from worker.reading.level import Doubles, level_box
from worker.reading.network import Network, Weights
from worker.reading.planes import Floats, Planes, largest, second
from worker.reading.stored import stored_weights

_Places = npt.NDArray[np.intp]
#: The side of the view that the network takes.
VIEW_PX = 192
#: How many blocks there are in each stage; each stage but a first one begins with a halving.
_NEAR, _FACE = (2, 1), (2, 3, 3, 3, 3)
_REGION, _PART = (2, 3, 1), (2, 3)
#: Side of what is cut out, and how much wider than its landmarks it is.
_CUT_PX, _AROUND = 16, 1.5
#: Pixels of the view for one place of what is cut from. Landmarks come in as much finer pixels.
_FINER = 4


@dataclass(frozen=True, kw_only=True)
class _Region:
    """What is looked at more closely.

    Attributes:
        name: Of its layers.
        ends: Landmarks at its left and right end, seen in the view, which are laid level.
        bounds: Landmarks that bound it.
        parts: Names of layers and which landmarks they say.
    """

    name: str
    ends: tuple[int, int]
    bounds: tuple[int, ...]
    parts: tuple[tuple[str, tuple[int, ...]], ...]


_REGIONS = (
    _Region(name="lips", ends=(61, 291), bounds=LIPS, parts=(("lips.all", LIPS),)),
    _Region(
        name="eye",
        ends=(33, 133),
        bounds=RIGHT_EYE,
        parts=(("eye.lids", RIGHT_EYE), ("eye.iris", RIGHT_IRIS)),
    ),
)


@cache
def mesh_weights() -> Weights:
    """Of the network; `weights/NOTICE-landmarks.txt` says where from."""
    return stored_weights("landmarks.npz.xz")


def mesh_outputs(
    weights: Weights, views: Floats, *, closer: bool = True, threads: int = 1
) -> tuple[Floats, Floats]:
    """What the network says.

    Args:
        weights: As `mesh_weights` gives them.
        views: (views, 192, 192, 3), 0 to 1. The numbers of each are the same beside any others.
        closer: Whether lips and the right eye are looked at more closely.
        threads: How many work at once; the numbers are the same with any.

    Returns:
        Log odds that each is of a face, and (views, 478, 2), across and down in the view; NaN
        where nothing is said.
    """
    points = np.full((len(views), COUNT, 2), np.nan, np.float32)
    with ThreadPoolExecutor(threads) as pool:
        network = Network(weights, pool, threads)
        x = Planes.of(views.transpose(3, 0, 1, 2))
        x = network.convolved("stem", x, rectify=False, halve=True)
        _bend(network, "stem", x)
        near = _stages(network, "near", _NEAR, x)
        face = _narrowed(network, "face", _stages(network, "face", _FACE, near))
        points[:, list(COARSE)] = _said(weights, "face.out", face).reshape(len(views), -1, 2)
        odds = _said(weights, "flag.out", face)[:, 0]
        for region in _REGIONS if closer else ():
            _look_closer(network, region, near, points)
    return odds, points


def _look_closer(network: Network, region: _Region, near: Planes, points: Floats) -> None:
    """Put in the landmarks that a closer look at a region of each view says."""
    cuts = [_cut(some, region) for some in points]
    views = near.inner.swapaxes(0, 1)
    taken = [
        _taken(view, turn / _FINER, start / _FINER)
        for view, (turn, start) in zip(views, cuts, strict=True)
    ]
    seen = _stages(network, region.name, _REGION, Planes.of(np.stack(taken, axis=1)))
    for part, numbers in region.parts:
        y = _narrowed(network, part, _stages(network, part, _PART, seen))
        said = _said(network.weights, f"{part}.out", y).reshape(len(views), -1, 2)
        for one, some, (turn, start) in zip(points, said, cuts, strict=True):
            one[list(numbers)] = some @ (turn / _FINER).T + start


def _stages(network: Network, name: str, stages: Sequence[int], x: Planes) -> Planes:
    for stage, blocks in enumerate(stages):
        for block in range(blocks):
            x = _block(network, f"{name}.{stage}.{block}", x, halve=stage > 0 and block == 0)
    return x


def _narrowed(network: Network, name: str, x: Planes) -> Planes:
    y = network.convolved(f"{name}.narrow", x, rectify=False)
    _bend(network, f"{name}.narrow", y)
    return _block(network, f"{name}.last", y, halve=False)


def _block(network: Network, name: str, x: Planes, *, halve: bool) -> Planes:
    """A convolution by plane and one over planes, added to what went in."""
    y = network.convolved_each(f"{name}.each", x)
    if halve:
        y, x = second(y), largest(x)
    y = network.convolved(name, y, rectify=False)
    y.flat[: x.count] += x.flat
    _bend(network, name, y)
    return y


def _bend(network: Network, name: str, x: Planes) -> None:
    """Multiply what is below zero by the layer's slopes."""
    network.over_planes(x, partial(_bend_planes, network.weights[f"{name}.slope"], x))


def _bend_planes(slopes: Floats, x: Planes, planes: slice) -> None:
    some = x.flat[planes]
    below = np.minimum(some, 0)
    below *= slopes[planes, None] - np.float32(1)
    some += below


def _said(weights: Weights, layer: str, x: Planes) -> Floats:
    """A layer that sees all of each plane at once: (views, numbers)."""
    kernel = weights[f"{layer}.weight"].reshape(len(weights[f"{layer}.bias"]), -1)
    # No product of BLAS, which may divide it between threads.
    sums = [(kernel * view.ravel()).sum(1) for view in x.inner.swapaxes(0, 1)]
    return np.asarray(np.stack(sums) + weights[f"{layer}.bias"], np.float32)


def _cut(points: Floats, region: _Region) -> tuple[Doubles, Doubles]:
    """Where a region is: what a pixel across and down in it is in the view, and its corner."""
    ends = points[region.ends[0]], points[region.ends[1]]
    turn, low, high = level_box(points[list(region.bounds)], *ends)
    scaled = turn * (high - low) * _AROUND / _CUT_PX
    return scaled, turn @ ((low + high) / 2) - scaled @ np.full(2, _CUT_PX / 2)


def _taken(planes: Floats, turn: Doubles, start: Doubles) -> Floats:
    """A region of planes, linear between the middles of places.

    Unlike `between_pixels`, whose edges go on, it is zero beyond them, as published.
    """
    down, across = np.mgrid[:_CUT_PX, :_CUT_PX] + 0.5
    x, y = np.tensordot(turn, np.stack([across, down]), 1) + start[:, None, None] - 0.5
    rows, columns = planes.shape[1:]
    inside = (x >= 0) & (x <= columns - 1) & (y >= 0) & (y <= rows - 1)
    left, top = (
        np.clip(np.floor(one), 0, count - 2).astype(int) for one, count in ((x, columns), (y, rows))
    )
    right_share, lower_share = (x - left).astype(np.float32), (y - top).astype(np.float32)
    upper = _between(planes, top, left, right_share)
    lower = _between(planes, top + 1, left, right_share)
    return np.asarray((upper + (lower - upper) * lower_share) * inside, np.float32)


def _between(planes: Floats, rows: _Places, columns: _Places, share: Floats) -> Floats:
    first = planes[:, rows, columns]
    return np.asarray(first + (planes[:, rows, columns + 1] - first) * share, np.float32)
