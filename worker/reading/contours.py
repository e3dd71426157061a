"""Contours told from texture and shadows, by a network that learnt from made-up scenes alone."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt
from PIL import Image

from worker.reading.network import Floats, Weights, convolved, halved

_Bytes = npt.NDArray[np.uint8]
#: The picture's sides are filled up to multiples of this: five halvings.
_MULTIPLE_PX = 32
_LEVELS = 4


@cache
def _weights() -> Weights:
    with (files("worker.reading") / "weights" / "contours.npz").open("rb") as file:
        return {key: value.astype(np.float32) for key, value in np.load(file).items()}


def contour_maps(picture: Image.Image) -> tuple[_Bytes, ...]:
    """Contour, outer, mark, shadow and sureness of a picture (mode RGB); each (rows, columns)."""
    pixels = np.asarray(picture, np.float32) / np.float32(255)
    rows, columns = pixels.shape[:2]
    likely = _run(_weights(), pixels)[:rows, :columns]
    contour = _to_bytes(likely)
    sure = _to_bytes(np.abs(likely - 0.5) * 2)
    nothing = np.zeros_like(contour)
    return contour, contour, nothing, nothing, sure


def _to_bytes(share: Floats) -> _Bytes:
    return np.asarray(np.rint(share * np.float32(255)), np.uint8)


def _run(weights: Weights, pixels: Floats) -> Floats:
    fill = [(0, -side % _MULTIPLE_PX) for side in pixels.shape[:2]]
    planes = np.pad(pixels, (*fill, (0, 0)), mode="symmetric").transpose(2, 0, 1) - np.float32(0.5)
    channels, rows, columns = planes.shape
    x = planes.reshape(channels, rows // 2, 2, columns // 2, 2).transpose(0, 2, 4, 1, 3)
    x = x.reshape(channels * 4, rows // 2, columns // 2)
    for layer in ("d0.0", "d0.1"):
        x = convolved(weights, layer, x)
    kept = [x]
    for level in range(_LEVELS):
        x = halved(x)
        for layer in (f"d.{level}.0", f"d.{level}.1"):
            x = convolved(weights, layer, x)
        kept.append(x)
    x = kept.pop()
    for level in range(_LEVELS):
        x = np.concatenate([x.repeat(2, 1).repeat(2, 2), kept.pop()])
        for layer in (f"u.{level}.0", f"u.{level}.1"):
            x = convolved(weights, layer, x)
    x = convolved(weights, "o", x, rectify=False)
    _, rows, columns = x.shape
    whole = x.reshape(2, 2, rows, columns).transpose(2, 0, 3, 1).reshape(rows * 2, columns * 2)
    return np.asarray(1 / (1 + np.exp(-whole)), np.float32)
