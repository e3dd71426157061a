"""Layers of a network, in NumPy."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
#: By name of layer, `.weight` (out, in, rows, columns) and `.bias` (out,).
Weights = dict[str, Floats]


def convolved(weights: Weights, layer: str, x: Floats, *, rectify: bool = True) -> Floats:
    """A convolution of odd size, zeros around it, and what is below zero cut off.

    Args:
        weights: Of the network.
        layer: Which layer's.
        x: (channels, rows, columns).
        rectify: Whether what is below zero becomes zero.
    """
    kernel, bias = weights[f"{layer}.weight"], weights[f"{layer}.bias"]
    out, _, size, _ = kernel.shape
    channels, rows, columns = x.shape
    reach = size // 2
    padded = np.pad(x, ((0, 0), (reach, reach), (reach, reach)))
    total = np.zeros((out, rows * columns), np.float32)
    for down in range(size):
        for across in range(size):
            part = padded[:, down : down + rows, across : across + columns]
            total += kernel[:, :, down, across] @ part.reshape(channels, -1)
    total += bias[:, None]
    if rectify:
        np.maximum(total, 0, out=total)
    return total.reshape(out, rows, columns)


def halved(x: Floats) -> Floats:
    """Means of two by two."""
    channels, rows, columns = x.shape
    blocks = x.reshape(channels, rows // 2, 2, columns // 2, 2)
    return np.asarray(blocks.mean((2, 4)), np.float32)
