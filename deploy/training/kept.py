"""Weights as they are shipped: in whole numbers with a scale for each plane out, packed."""

from __future__ import annotations

import io
import lzma
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

Stored = dict[str, NDArray[np.int8] | NDArray[np.float16]]

#: Layers at the picture's own size are stored in 16 bits.
_WHOLE = ("d0.", "o.")
#: All others in so many steps either way; deep layers, which have most of the weights, and those
#: that tell the subject in fewer.
_STEPS, _FEWER, _FEWEST = 127, 85, 42
_DEEP, _SUBJECT = ("d.2.", "d.3.", "u.0.1."), ("s.", "g.", "b.", "w.", "m.")


def stored(weights: Mapping[str, Tensor]) -> Stored:
    """Weights as `worker/reading/stored.py` reads them."""
    kept: Stored = {}
    for name, value in weights.items():
        if name.endswith(".weight") and not name.startswith(_WHOLE):
            steps = _steps(name)
            scale = (value.abs().amax((1, 2, 3)) / steps).clamp(min=1e-6).half().float()
            whole = (value / scale.view(-1, 1, 1, 1)).round().clamp(-steps, steps)
            kept[name] = whole.char().cpu().numpy()
            kept[name.removesuffix("weight") + "scale"] = scale.half().cpu().numpy()
        else:
            kept[name] = value.half().cpu().numpy()
    return kept


def _steps(name: str) -> int:
    if name.startswith(_SUBJECT):
        return _FEWEST
    return _FEWER if name.startswith(_DEEP) else _STEPS


def loaded(kept: Stored) -> dict[str, Tensor]:
    """The way back."""
    weights = {name: torch.from_numpy(value.astype(np.float32)) for name, value in kept.items()}
    scales = {name: weights.pop(name) for name in kept if name.endswith(".scale")}
    for name, scale in scales.items():
        weights[name.removesuffix("scale") + "weight"] *= scale.view(-1, 1, 1, 1)
    return weights


def packed(kept: Stored) -> bytes:
    """An archive, packed as a whole: one of many small arrays is a tenth names."""
    archive = io.BytesIO()
    np.savez(archive, allow_pickle=False, **kept)
    return lzma.compress(archive.getvalue(), preset=9 | lzma.PRESET_EXTREME)


def unpacked(path: Path) -> Stored:
    """Weights of a file, as they are stored."""
    with np.load(io.BytesIO(lzma.decompress(path.read_bytes())), allow_pickle=False) as archive:
        return dict(archive)
