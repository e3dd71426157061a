r"""Convert the published weights of the face finder, once.

    npm pack @mediapipe/face_detection@0.4.1657300184
    tar xzf mediapipe-face_detection-0.4.1657300184.tgz
    PYTHONPATH=.:deploy/training python -m published.convert_faces \
        package/face_detection_full_range.tflite

The file is BlazeFace, full range, dense, in half floats (Apache License 2.0). Names and the order
of axes change, and weights are stored in eight bits. Needs the extra `training`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import tflite

from published.weights import (
    EACH_TO_PLANES,
    TO_PLANES,
    Floats,
    in_eight_bits,
    keep,
    opened,
    stored_of,
    tensors_by_name,
)

#: How many blocks each stage has, on the way down and up again.
DOWN, UP = (2, 3, 3, 3, 4), (2, 2, 1)


def point_names() -> list[str]:
    """Names of the convolutions over all planes, in the order in which the file has them."""
    names = ["stem"]
    for stage, blocks in enumerate(DOWN):
        for block in range(blocks):
            names += [f"down.{stage}.{block}.narrow", f"down.{stage}.{block}.widen"]
    for stage, blocks in enumerate(UP):
        names += [f"up.{stage}.below", f"up.{stage}.beside"]
        for block in range(blocks):
            names += [f"up.{stage}.{block}.narrow", f"up.{stage}.{block}.widen"]
    return [*names, "score", "place"]


def each_names() -> list[str]:
    """Names of the convolutions of each plane by itself, in the same order."""
    narrow = [name for name in point_names() if name.endswith(".narrow")]
    blocks = [name.removesuffix(".narrow") for name in narrow]
    return [f"{block}.{which}" for block in blocks for which in ("first", "second")]


def tensors(model: tflite.Model) -> dict[str, int]:
    """Which tensor of the model has which weights."""
    over = ("weight", "bias")
    kinds = [("CONV_2D", over, point_names()), ("DEPTHWISE_CONV_2D", over, each_names())]
    return tensors_by_name(model, kinds)


def converted(model: tflite.Model) -> dict[str, Floats]:
    """Weights by name of layer, with axes as `worker.reading.network` has them."""
    stored, each = stored_of(model), set(each_names())
    weights = {}
    for name, tensor in tensors(model).items():
        value = stored[tensor].astype(np.float32)
        if name.endswith(".weight"):
            layer = name.removesuffix(".weight")
            value = value.transpose(EACH_TO_PLANES if layer in each else TO_PLANES)
        weights[name] = value
    return weights


def main() -> None:
    """Convert the file that is named."""
    keep(in_eight_bits(converted(opened(Path(sys.argv[1])))), "faces.npz.xz")


if __name__ == "__main__":
    main()
