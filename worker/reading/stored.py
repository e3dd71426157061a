"""Weights of networks, as files of the package have them: mostly in eight bits, some packed."""

from __future__ import annotations

import io
import lzma
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt

from worker.arrays import arrays_in
from worker.reading.network import Weights


def stored_weights(name: str) -> Weights:
    """Those of a file in `weights`, where a text says where they come from.

    Args:
        name: Of the file, a NumPy archive; with `.xz` at the end one that is packed once more,
            since an archive of many small arrays is a tenth names.
    """
    read = (files("worker.reading") / "weights" / name).read_bytes()
    archive = lzma.decompress(read) if name.endswith(".xz") else read
    return in_full(arrays_in(io.BytesIO(archive)))


def in_full(stored: Mapping[str, npt.NDArray[Any]]) -> Weights:
    """Weights that are stored in whole numbers, with a scale for each plane out, as they are."""
    weights = {key: value.astype(np.float32) for key, value in stored.items()}
    for key in stored:
        layer, _, what = key.rpartition(".")
        if what == "scale":
            weights[f"{layer}.weight"] *= weights.pop(key)[:, None, None, None]
    return weights
