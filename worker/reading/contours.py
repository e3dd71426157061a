"""Contours told from texture and shadows, by a network that learnt from made-up scenes alone.

Beside it another tells what the picture is of (`subjects`), at both distances that it is read from.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.reading.network import Network, Weights
from worker.reading.planes import Floats, Planes
from worker.reading.regions.silhouettes import silhouettes
from worker.reading.stored import stored_weights
from worker.reading.subjects import SQUARE_PX, subject_logits, subject_weights

_Bytes = npt.NDArray[np.uint8]
#: The picture's sides are filled up to multiples of this: five halvings.
_MULTIPLE_PX = 32
_LEVELS = 4
#: How many there are on the way down, at each level.
_CONVOLUTIONS = (2, 2, 2, 3)
#: How far a reading from further off raises and lowers log odds.
_ADDS, _TAKES = np.float32(0.5), np.float32(0.25)
#: Which maps there are, in their order.
_CONTOUR, _OUTER, _SHADOW, _SURE = 0, 1, 3, 4
#: How far a silhouette raises those of bounding a form.
_BOUNDS = np.float32(0.5)


class Logits(NamedTuple):
    """Log odds of the maps, and of the subject if that was asked for.

    Attributes:
        maps: (maps, rows, columns).
        subject: (rows, columns) of a grid of a quarter of the sides.
    """

    maps: Floats
    subject: Floats | None = None


@cache
def contour_weights() -> Weights:
    """Of the network; where they come from is written beside them."""
    return split_where_joined(stored_weights("contours.npz.xz"))


def split_where_joined(stored: Weights) -> Weights:
    """Weights for layers where planes from below meet planes from the side, in two.

    A convolution of 1 × 1 of enlarged planes is the enlarged convolution, at a quarter of the
    cost; so the two kinds are weighed apart and then added.
    """
    weights = dict(stored)
    for level in range(_LEVELS):
        layer = f"u.{level}.0"
        kernel = stored[f"{layer}.weight"]
        below = kernel.shape[1] - len(kernel)
        weights[f"{layer}.below.weight"] = kernel[:, :below]
        weights[f"{layer}.beside.weight"] = kernel[:, below:]
        weights[f"{layer}.beside.bias"] = stored[f"{layer}.bias"]
    return weights


def contour_maps(picture: Image.Image, threads: int = 2) -> tuple[_Bytes, ...]:
    """Contour, outer, mark, shadow and sureness of a picture (mode RGB); each (rows, columns).

    It is read as it is and at half its size: what is texture near is a form from further off. That
    raises log odds by half of what it says more, and lowers them by less, since small forms, as
    petals among many, are seen near alone.
    """
    near, far = _near_and_far(picture, threads)
    return tuple(_likely(plane) for plane in _planes(near, far, picture.size))


def whole_maps(
    picture: Image.Image, threads: int = 2, *, closed: bool = False
) -> tuple[tuple[_Bytes, ...], _Bytes]:
    """The same of a whole picture, and how likely a place is of what it is of.

    Args:
        picture: Mode RGB.
        threads: How many work at once.
        closed: Whether contours are raised along silhouettes.

    Returns:
        The maps, and the subject on a grid of a quarter of the sides.
    """
    near, far = _near_and_far(picture, threads, subject=True)
    planes = _planes(near, far, picture.size)
    subject = _subject(near, far)
    if closed:
        _raise_silhouettes(planes, picture, subject)
    return tuple(_likely(plane) for plane in planes), _likely(subject)


def _near_and_far(
    picture: Image.Image, threads: int, *, subject: bool = False
) -> tuple[Logits, Logits]:
    width, height = picture.size
    half = picture.resize((max(width // 2, 1), max(height // 2, 1)), Image.Resampling.BOX)
    weights = contour_weights()
    near, far = (
        contour_logits(
            weights, np.asarray(one, np.float32) / np.float32(255), threads, subject=subject
        )
        for one in (picture, half)
    )
    return near, far


def _planes(near: Logits, far: Logits, size: tuple[int, int]) -> list[Floats]:
    """Log odds of each map, by both readings."""
    return [
        _together(plane, _enlarged(other, size))
        for plane, other in zip(near.maps, far.maps, strict=True)
    ]


def _subject(near: Logits, far: Logits) -> Floats:
    """Log odds by both readings: the far one knows what is large, the near one what is small."""
    if near.subject is None or far.subject is None:
        message = "the subject was not asked for"
        raise ValueError(message)
    rows, columns = near.subject.shape
    total = near.subject + _enlarged(far.subject, (columns, rows))
    return np.asarray(total / 2, np.float32)


def _raise_silhouettes(planes: list[Floats], picture: Image.Image, subject: Floats) -> None:
    """Raise log odds along the outlines of what a picture is of."""
    likely, shadow = (
        np.asarray(1 / (1 + np.exp(-planes[each])), np.float32) for each in (_CONTOUR, _SHADOW)
    )
    # Shadows part regions too, and bound nothing.
    raises = silhouettes(picture, likely, _likely(subject)) * np.maximum(1 - 2 * shadow, 0)
    # What is nearly certain is not raised, so that bands keep their ridges.
    planes[_CONTOUR] += raises * (1 - likely)
    planes[_OUTER] += _BOUNDS * raises
    planes[_SURE] += raises


def _together(near: Floats, far: Floats) -> Floats:
    apart = far - near
    return np.asarray(near + np.where(apart > 0, _ADDS, _TAKES) * apart, np.float32)


def _enlarged(plane: Floats, size: tuple[int, int]) -> Floats:
    """A plane of this many columns and rows, smoothly."""
    image = Image.fromarray(plane).resize(size, Image.Resampling.BICUBIC)
    return np.asarray(image, np.float32)


def _likely(log_odds: Floats) -> _Bytes:
    return np.asarray(np.rint(255 / (1 + np.exp(-log_odds))), np.uint8)


def contour_logits(
    weights: Weights, pixels: Floats, threads: int = 2, *, subject: bool = False
) -> Logits:
    """What the network says of a picture.

    Args:
        weights: As `contour_weights` gives them.
        pixels: (rows, columns, 3), 0 to 1.
        threads: How many work at once; the numbers are the same with any.
        subject: Whether it is asked what the picture is of.
    """
    rows, columns = pixels.shape[:2]
    fill = [(0, -side % _MULTIPLE_PX) for side in (rows, columns)]
    planes = np.pad(pixels, (*fill, (0, 0)), mode="symmetric").transpose(2, 0, 1) - np.float32(0.5)
    with ThreadPoolExecutor(threads) as pool:
        network = Network(weights, pool, threads)
        seen = _levels(network, _unshuffled(planes))
        read = _shuffled(network.convolved("o", seen[-1], rectify=False).inner)
        maps = np.ascontiguousarray(read[:, :rows, :columns])
        if not subject:
            return Logits(maps)
        told = subject_logits(Network(subject_weights(), pool, threads), seen)
    return Logits(maps, told[: -(-rows // SQUARE_PX), : -(-columns // SQUARE_PX)])


def _levels(network: Network, x: Planes) -> list[Planes]:
    """Down over ever coarser levels, up again, and on each level what was kept on the way.

    Returns:
        What is seen on the way up, from a 32nd of the sides to half of them.
    """
    x = network.convolved("d0.1", network.convolved("d0.0", x))
    kept = [x]
    for level in range(_LEVELS):
        x = network.halved(x)
        for layer in range(_CONVOLUTIONS[level]):
            x = network.convolved(f"d.{level}.{layer}", x)
        kept.append(x)
    x = kept.pop()
    seen = [x]
    for level in range(_LEVELS):
        below = network.convolved(f"u.{level}.0.below", x, rectify=False)
        x = network.convolved(f"u.{level}.0.beside", kept.pop(), rectify=False)
        network.add_doubled(x, below)
        x = network.convolved(f"u.{level}.1", x)
        seen.append(x)
    return seen


def _unshuffled(planes: Floats) -> Planes:
    """Two by two places of a plane to four planes, one after another."""
    count, rows, columns = planes.shape
    split = planes.reshape(count, rows // 2, 2, columns // 2, 2).transpose(0, 2, 4, 1, 3)
    return Planes.of(split.reshape(count * 4, rows // 2, columns // 2))


def _shuffled(planes: Floats) -> Floats:
    """The way back."""
    count, rows, columns = planes.shape
    split = planes.reshape(count // 4, 2, 2, rows, columns).transpose(0, 3, 1, 4, 2)
    return np.asarray(split.reshape(count // 4, rows * 2, columns * 2))
