"""Runs a published model operator by operator in PyTorch, for the tests to compare with.

The three kinds of operators that are no part of the format are written from their source
(MediaPipe, `mediapipe/util/tflite/operations`, Apache License 2.0).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import tflite
import torch
from flatbuffers import flexbuffers
from torch.nn import functional as nn

from published.weights import constant, kind_of

Tensors = dict[int, torch.Tensor]
#: Operators that do the same everywhere.
_PLAIN: dict[str, Callable[..., torch.Tensor]] = {
    "STRIDED_SLICE": lambda x, *_: x,
    "RELU": nn.relu,
    "ADD": torch.add,
    "MUL": torch.mul,
    "MAX_POOL_2D": lambda x: nn.max_pool2d(x, 2),
    "RESIZE_BILINEAR": lambda x, *_: nn.interpolate(
        x, scale_factor=2, mode="bilinear", align_corners=False
    ),
    "TransformLandmarks": lambda x, matrix: x @ matrix[0, :2, :2].T + matrix[0, :2, 3],
}


def run(
    model: tflite.Model, view: torch.Tensor, other: Mapping[int, npt.NDArray[Any]] | None = None
) -> list[torch.Tensor]:
    """What comes out of a view (1, planes, rows, columns).

    Args:
        model: The published one.
        view: What goes in; may be of another size than published, if all is convolutions.
        other: Weights by tensor, in the model's order of axes, instead of its own.
    """
    graph, replaced = model.Subgraphs(0), other or {}
    tensors = {graph.Inputs(0): view}
    for number in range(graph.OperatorsLength()):
        operator = graph.Operators(number)
        out = operator.Outputs(0)
        if out in replaced:
            tensors[out] = torch.tensor(replaced[out])
        else:
            tensors[out] = _computed(model, operator, tensors)
    return [tensors[one] for one in graph.OutputsAsNumpy().tolist()]


def _computed(model: tflite.Model, operator: tflite.Operator, tensors: Tensors) -> torch.Tensor:
    kind, numbers = kind_of(model, operator), operator.InputsAsNumpy().tolist()
    if kind == "DEQUANTIZE":
        return torch.tensor(constant(model, numbers[0])).float()
    x, *others = (tensors.get(number) for number in numbers)
    if kind in {"CONV_2D", "DEPTHWISE_CONV_2D"}:
        return _convolved(operator, x, *others, each=kind != "CONV_2D")
    if kind == "PRELU":
        return torch.where(x < 0, x * others[0].reshape(1, -1, 1, 1), x)
    if kind == "PAD":
        rims = constant(model, numbers[1])
        return nn.pad(x, (0, 0, 0, 0, 0, int(rims[3, 1])))
    if kind == "RESHAPE":
        shape = model.Subgraphs(0).Tensors(operator.Outputs(0)).ShapeAsNumpy().tolist()
        # Of another size of view it stays as it is.
        fits = x.numel() == int(np.prod(shape))
        return (x.permute(0, 2, 3, 1) if x.ndim == 4 else x).reshape(shape) if fits else x
    return _simple(kind, operator, x, others)


def _simple(kind: str, operator: tflite.Operator, x: torch.Tensor, others: list[Any]) -> Any:
    if kind in _PLAIN:
        return _PLAIN[kind](x, *others)
    options = flexbuffers.Loads(bytes(operator.CustomOptionsAsNumpy()))
    if kind == "Landmarks2TransformMatrix":
        return _matrix(x[0, :, :2], options)[None]
    if kind == "TransformTensorBilinear":
        return _taken(x, others[0][0], options)
    raise ValueError(kind)


def _convolved(
    operator: tflite.Operator, x: torch.Tensor, weight: Any, bias: Any, *, each: bool
) -> torch.Tensor:
    table = operator.BuiltinOptions()
    options = tflite.DepthwiseConv2DOptions() if each else tflite.Conv2DOptions()
    options.Init(table.Bytes, table.Pos)
    kernel = weight.permute(*((3, 0, 1, 2) if each else (0, 3, 1, 2)))
    stride, rows = options.StrideH(), x.shape[2]
    if options.Padding() == tflite.Padding.SAME:
        rim = max((-(-rows // stride) - 1) * stride + kernel.shape[2] - rows, 0)
        x = nn.pad(x, (rim // 2, rim - rim // 2) * 2)
    return nn.conv2d(x, kernel, bias, stride=stride, groups=x.shape[1] if each else 1)


def _matrix(points: torch.Tensor, options: dict[str, Any]) -> torch.Tensor:
    """Places of a region's pixels, in the planes that it is taken from."""
    left, right = (points[options[f"{side}_rotation_idx"]] for side in ("left", "right"))
    turn = options["target_rotation_radians"] - torch.atan2(*(right - left).flip(0))
    rotated = torch.stack(
        [torch.stack([turn.cos(), -turn.sin()]), torch.stack([turn.sin(), turn.cos()])]
    )
    level = points[list(options["subset_idxs"])] @ rotated.T
    low, high = level.amin(0), level.amax(0)
    size = torch.tensor([options["output_width"], options["output_height"]]).float()
    scale = torch.tensor([options["scale_x"], options["scale_y"]]) * (high - low) / size
    matrix = torch.eye(4)
    matrix[:2, :2] = rotated.T * scale
    matrix[:2, 3] = rotated.T @ ((low + high) / 2) - matrix[:2, :2] @ (size / 2)
    return matrix


def _taken(x: torch.Tensor, matrix: torch.Tensor, options: dict[str, Any]) -> torch.Tensor:
    """A region, linear between the middles of places, and zero beyond them."""
    sides = [torch.arange(options[f"output_{side}"]) + 0.5 for side in ("height", "width")]
    down, across = torch.meshgrid(*sides, indexing="ij")
    places = torch.stack([across, down], -1) @ matrix[:2, :2].T + matrix[:2, 3] - 0.5
    last = torch.tensor([x.shape[3] - 1, x.shape[2] - 1])
    inside = ((places >= 0) & (places <= last)).all(-1)
    taken = nn.grid_sample(x, (places / last * 2 - 1)[None], align_corners=True)
    return taken * inside
