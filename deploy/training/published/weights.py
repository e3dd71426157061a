"""Published models in TensorFlow Lite's format: their weights by our names, stored small."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import tflite
from kept import packed

Floats = npt.NDArray[np.float32]
Stored = dict[str, npt.NDArray[Any]]

WEIGHTS = Path(__file__).resolve().parents[3] / "worker" / "reading" / "weights"
#: Where convolutions over all planes, and of each plane by itself, have their axes, so that
#: (out, in, rows, columns) comes out.
TO_PLANES, EACH_TO_PLANES = (0, 3, 1, 2), (3, 0, 1, 2)
#: A scale is chosen among so many shares of the one that reaches the largest number.
_SHARES = np.linspace(0.5, 1, 26)


def opened(path: Path) -> tflite.Model:
    """A model of a file."""
    return tflite.Model.GetRootAs(path.read_bytes(), 0)


def kind_of(model: tflite.Model, operator: tflite.Operator) -> str:
    """Its name; of one that is no part of the format, the name that the model gives it."""
    code = model.OperatorCodes(operator.OpcodeIndex())
    number = max(code.BuiltinCode(), code.DeprecatedBuiltinCode())
    if number == tflite.BuiltinOperator.CUSTOM:
        return str(code.CustomCode().decode())
    kinds = {value: name for name, value in vars(tflite.BuiltinOperator).items()}
    return str(kinds[number])


def operators(model: tflite.Model, kind: str) -> list[tflite.Operator]:
    """Those of one kind, in the order in which they run."""
    graph = model.Subgraphs(0)
    found = [graph.Operators(number) for number in range(graph.OperatorsLength())]
    return [operator for operator in found if kind_of(model, operator) == kind]


def constant(model: tflite.Model, tensor: int) -> npt.NDArray[Any]:
    """What is stored of a tensor."""
    one = model.Subgraphs(0).Tensors(tensor)
    kinds = {tflite.TensorType.FLOAT16: np.float16, tflite.TensorType.INT32: np.int32}
    values = model.Buffers(one.Buffer()).DataAsNumpy().view(kinds[one.Type()])
    return np.asarray(values.reshape(one.ShapeAsNumpy()))


def stored_of(model: tflite.Model) -> dict[int, npt.NDArray[Any]]:
    """The half floats of each tensor that is made of stored ones."""
    made = operators(model, "DEQUANTIZE")
    return {one.Outputs(0): constant(model, one.Inputs(0)) for one in made}


def tensors_by_name(
    model: tflite.Model, kinds: Sequence[tuple[str, Sequence[str], Sequence[str]]]
) -> dict[str, int]:
    """Which tensor has which weights.

    Args:
        model: The published one.
        kinds: Kinds of operators, what their inputs but the first are, and names of their layers
            in the order in which they run.
    """
    return {
        f"{name}.{what}": operator.Inputs(place)
        for kind, whats, names in kinds
        for name, operator in zip(names, operators(model, kind), strict=True)
        for place, what in enumerate(whats, 1)
    }


def in_eight_bits(weights: Mapping[str, Floats]) -> Stored:
    """Weights with a scale for each plane out, the one that differs least; the rest in 16 bits."""
    stored: Stored = {}
    for name, value in weights.items():
        if name.endswith(".weight"):
            stored[name], stored[f"{name.removesuffix('weight')}scale"] = _whole(value)
        else:
            stored[name] = value.astype(np.float16)
    return stored


def _whole(value: Floats) -> tuple[npt.NDArray[np.int8], npt.NDArray[np.float16]]:
    rows = value.reshape(len(value), -1)
    most = np.maximum(np.abs(rows).max(1), 1e-5) / 127
    scales = (most[None] * _SHARES[:, None]).astype(np.float16)
    exact = scales[..., None].astype(np.float32)
    whole = np.rint(rows / exact).clip(-127, 127)
    best = ((whole * exact - rows) ** 2).sum(2).argmin(0)
    places = np.arange(len(rows))
    return whole[best, places].reshape(value.shape).astype(np.int8), scales[best, places]


def keep(stored: Stored, name: str) -> None:
    """Write an archive beside the other weights, packed once more, and say how large it is."""
    archive = packed(stored)
    (WEIGHTS / name).write_bytes(archive)
    numbers = sum(one.size for one in stored.values())
    print(f"{numbers} numbers, {len(archive)} bytes")
