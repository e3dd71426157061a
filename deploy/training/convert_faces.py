"""Convert the published weights of the face finder, once.

    npm pack @mediapipe/face_detection@0.4.1657300184
    tar xzf mediapipe-face_detection-0.4.1657300184.tgz
    python deploy/training/convert_faces.py package/face_detection_full_range.tflite

The file is BlazeFace, full range, dense, in half floats (Apache License 2.0). Its numbers are
kept as they are; only names and the order of axes change. Needs the extra `training`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import numpy.typing as npt
import tflite

Halves = npt.NDArray[np.float16]

OUT = Path(__file__).resolve().parents[2] / "worker" / "reading" / "weights" / "faces.npz"
#: How many blocks each stage has, on the way down and up again.
DOWN, UP = (2, 3, 3, 3, 4), (2, 2, 1)
#: Height, width, planes in and out have other places there.
TO_PLANES = (0, 3, 1, 2)
EACH_TO_PLANES = (3, 0, 1, 2)


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


def stored_of(model: tflite.Model) -> dict[int, Halves]:
    """The half floats of each tensor that is made of stored ones."""
    graph = model.Subgraphs(0)
    stored = {}
    for operator in operators(model, tflite.BuiltinOperator.DEQUANTIZE):
        tensor = graph.Tensors(operator.Inputs(0))
        values = model.Buffers(tensor.Buffer()).DataAsNumpy().view(np.float16)
        stored[operator.Outputs(0)] = values.reshape(tensor.ShapeAsNumpy())
    return stored


def operators(model: tflite.Model, kind: int) -> list[tflite.Operator]:
    """Those of one kind, in the order in which they run."""
    graph = model.Subgraphs(0)
    found = [graph.Operators(number) for number in range(graph.OperatorsLength())]
    codes = [model.OperatorCodes(operator.OpcodeIndex()) for operator in found]
    return [
        operator
        for operator, code in zip(found, codes, strict=True)
        if max(code.BuiltinCode(), code.DeprecatedBuiltinCode()) == kind
    ]


def converted(model: tflite.Model) -> dict[str, Halves]:
    """Weights by name of layer, with axes as `worker.reading.network` has them."""
    stored, weights = stored_of(model), {}
    kinds = (
        (tflite.BuiltinOperator.CONV_2D, point_names(), TO_PLANES),
        (tflite.BuiltinOperator.DEPTHWISE_CONV_2D, each_names(), EACH_TO_PLANES),
    )
    for kind, names, axes in kinds:
        for name, operator in zip(names, operators(model, kind), strict=True):
            weights[f"{name}.weight"] = stored[operator.Inputs(1)].transpose(axes)
            weights[f"{name}.bias"] = stored[operator.Inputs(2)]
    return weights


def main() -> None:
    """Convert the file that is named."""
    model = tflite.Model.GetRootAs(Path(sys.argv[1]).read_bytes(), 0)
    weights = converted(model)
    np.savez_compressed(OUT, allow_pickle=False, **weights)
    print(f"{sum(one.size for one in weights.values())} numbers, {OUT.stat().st_size} bytes")


if __name__ == "__main__":
    main()
