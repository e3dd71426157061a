r"""Convert the published weights of the network that places landmarks on a face, once.

    npm pack @mediapipe/face_mesh@0.4.1657299874
    tar xzf mediapipe-face_mesh-0.4.1657299874.tgz
    PYTHONPATH=.:deploy/training python -m published.convert_landmarks \
        package/face_mesh_solution_packed_assets.data

That file holds two models; the one with attention is the first in it that has branches for lips
and eyes (Apache License 2.0). What is not stored: the branches of the left eye, depths, and
landmarks that nobody asks for (`worker.reading.landmark_numbers.COARSE` says which are asked
for). Needs the extra `training`.
"""

from __future__ import annotations

import sys
from itertools import chain
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
from worker.reading.landmark_numbers import COARSE

NEAR, FACE = (2, 1), (2, 3, 3, 3, 3)
REGION, PART = (2, 3, 1), (2, 3)
#: What the published model looks at more closely, side by side; `other` is the left eye.
REGIONS = ("lips", "eye", "other")
PARTS = ("lips.all", "eye.lids", "eye.iris", "other.lids", "other.iris")


def layers() -> list[str]:
    """All layers that have weights, in the order in which the model runs each kind of them."""
    regions = zip(*(blocks(name, REGION) for name in REGIONS), strict=True)
    parts = zip(*([*blocks(name, PART), *ends(name)] for name in PARTS), strict=True)
    first = ["stem", *blocks("near", NEAR), *blocks("face", FACE), *ends("face")]
    return [*first, *chain(*regions), *chain(*parts), "flag.out"]


def blocks(name: str, stages: tuple[int, ...]) -> list[str]:
    """Of some stages."""
    return [f"{name}.{stage}.{at}" for stage, count in enumerate(stages) for at in range(count)]


def ends(name: str) -> tuple[str, ...]:
    """What follows the stages of a part."""
    return (f"{name}.narrow", f"{name}.last", f"{name}.out")


def tensors(model: tflite.Model) -> dict[str, int]:
    """Which tensor of the model has which weights."""
    bent = [name for name in layers() if not name.endswith(".out")]
    each = [f"{name}.each" for name in bent if name != "stem" and not name.endswith(".narrow")]
    over = ("weight", "bias")
    return tensors_by_name(
        model,
        [
            ("CONV_2D", over, layers()),
            ("DEPTHWISE_CONV_2D", over, each),
            ("PRELU", ("slope",), bent),
        ],
    )


def converted(model: tflite.Model) -> dict[str, Floats]:
    """Weights by name of layer, with axes as `worker.reading.network` has them."""
    stored, weights = stored_of(model), {}
    for name, tensor in tensors(model).items():
        if name.startswith("other."):
            continue
        value = stored[tensor].astype(np.float32)
        if name.endswith(".weight"):
            value = value.transpose(EACH_TO_PLANES if ".each." in name else TO_PLANES)
        elif name.endswith(".slope"):
            value = value.reshape(-1)
        # Across, down and depth of each landmark.
        if name.startswith("face.out."):
            value = value.reshape(-1, 3, *value.shape[1:])[list(COARSE), :2]
            value = value.reshape(-1, *value.shape[2:])
        weights[name] = value
    return weights


def main() -> None:
    """Convert the file that is named."""
    keep(in_eight_bits(converted(opened(Path(sys.argv[1])))), "landmarks.npz.xz")


if __name__ == "__main__":
    main()
