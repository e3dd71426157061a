"""Record what PyTorch makes of the networks and their layers, for the tests to compare with.

    python deploy/training/record_outputs.py layers
    python deploy/training/record_outputs.py contours     # after each training
    python deploy/training/record_outputs.py faces package/face_detection_full_range.tflite

Each writes a file in tests/unit/reading/recorded. Faces are recorded from the published file,
whose graph is run here operator by operator. Needs the extra `training`.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import torch
from net import ContourNet, loaded
from PIL import Image
from torch.nn import functional as nn

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "tests" / "unit" / "reading" / "recorded"
CONTOURS = ROOT / "worker" / "reading" / "weights" / "contours.npz"
PHOTO = ROOT / "deploy" / "demo" / "still_life.jpg"
#: Planes in and out and the size of what is convolved: one product, several summands, and bands.
SHAPES = {
    "point": (32, 8, 1),
    "point-summed": (96, 96, 1),
    "point-banded": (8, 128, 1),
    "window": (12, 24, 3),
    "window-summed": (24, 40, 3),
}

Arrays = dict[str, npt.NDArray[Any]]


def layers() -> Arrays:
    """Each kind of layer with made-up weights, by `name.what`."""
    made = torch.Generator().manual_seed(1)

    def some(*shape: int) -> torch.Tensor:
        return torch.randn(*shape, generator=made)

    kept: Arrays = {}
    for name, (planes, out, size) in SHAPES.items():
        x, weight, bias = some(1, planes, 5, 11), some(out, planes, size, size), some(out)
        weight /= (planes * size * size) ** 0.5
        y = nn.relu(nn.conv2d(x, weight, bias, padding=size // 2))
        kept |= named(name, x=x, weight=weight, bias=bias, y=y)
    x, weight, bias = some(1, 6, 8, 12), some(6, 1, 3, 3), some(6)
    y = nn.conv2d(x, weight, bias, padding=1, groups=6)
    halved = nn.conv2d(nn.pad(x, (0, 1, 0, 1)), weight, bias, stride=2, groups=6)
    kept |= named("each", x=x, weight=weight, bias=bias, y=y, halved=halved)
    doubled = nn.interpolate(x, scale_factor=2, mode="bilinear", align_corners=False)
    kept |= named("sizes", mean=nn.avg_pool2d(x, 2), most=nn.max_pool2d(x, 2), doubled=doubled)
    return kept


def named(name: str, **tensors: torch.Tensor) -> Arrays:
    """Arrays by name and what they are; a batch of one is taken out of it."""
    return {
        f"{name}.{what}": (one[0] if what not in {"weight", "bias"} else one).numpy()
        for what, one in tensors.items()
    }


def contours() -> Arrays:
    """The contour network of the stored weights over part of a photograph, at full precision."""
    with np.load(CONTOURS) as stored:
        net = ContourNet()
        net.load_state_dict(loaded(dict(stored)))
    pixels = np.asarray(Image.open(PHOTO).resize((480, 360), Image.Resampling.BOX))[
        190:286, 190:270
    ]
    # Sides are filled up to multiples of 32, as NumPy's `symmetric` does it.
    filled = np.pad(pixels, ((0, -96 % 32), (0, -80 % 32), (0, 0)), mode="symmetric")
    x = torch.tensor(filled).permute(2, 0, 1)[None] / 255
    logits = net(x)[0, :, :96, :80]
    return {"pixels": pixels, "logits": logits.numpy()}


def faces(model_file: Path) -> Arrays:
    """The published model over part of a photograph; rows of outputs are places."""
    from skimage import data  # noqa: PLC0415 - the other commands do without it.

    pixels = np.ascontiguousarray(data.astronaut()[40:168, 160:288])
    view = torch.tensor(pixels).permute(2, 0, 1)[None] / 127.5 - 1
    places, odds = run_tflite(model_file, view)
    return {"pixels": pixels, "odds": odds[0, 0].numpy(), "places": places[0].numpy()}


def run_tflite(model_file: Path, view: torch.Tensor) -> list[torch.Tensor]:
    """What comes before the last reshaping, of any size of view."""
    import tflite  # noqa: PLC0415 - only this one of three commands needs it.

    model = tflite.Model.GetRootAs(model_file.read_bytes(), 0)
    graph = model.Subgraphs(0)
    kinds = {number: kind for kind, number in vars(tflite.BuiltinOperator).items()}
    tensors = {graph.Inputs(0): view}
    before = {}
    for number in range(graph.OperatorsLength()):
        operator = graph.Operators(number)
        code = model.OperatorCodes(operator.OpcodeIndex())
        kind = kinds[max(code.BuiltinCode(), code.DeprecatedBuiltinCode())]
        ins = operator.InputsAsNumpy().tolist()
        if kind == "DEQUANTIZE":
            tensor = graph.Tensors(ins[0])
            values = model.Buffers(tensor.Buffer()).DataAsNumpy().view(np.float16)
            value = torch.tensor(values.reshape(tensor.ShapeAsNumpy())).float()
        elif kind == "PAD":
            rims = model.Buffers(graph.Tensors(ins[1]).Buffer()).DataAsNumpy().view(np.int32)
            value = nn.pad(tensors[ins[0]], (0, 0, 0, 0, 0, int(rims.reshape(4, 2)[3, 1])))
        elif kind == "RESHAPE":
            before[operator.Outputs(0)] = tensors[ins[0]]
            continue
        else:
            halve = graph.Tensors(operator.Outputs(0)).Shape(1) < graph.Tensors(ins[0]).Shape(1)
            value = computed(kind, [tensors.get(one) for one in ins], 2 if halve else 1)
        tensors[operator.Outputs(0)] = value
    return [before[one] for one in graph.OutputsAsNumpy().tolist()]


def computed(kind: str, ins: list[Any], stride: int) -> torch.Tensor:
    """One operator; with a stride of two, zeros are added at the right and bottom."""
    x = ins[0]
    if kind == "RELU":
        return nn.relu(x)
    if kind == "ADD":
        return x + ins[1]
    if kind == "MAX_POOL_2D":
        return nn.max_pool2d(x, 2)
    if kind == "RESIZE_BILINEAR":
        return nn.interpolate(x, scale_factor=2, mode="bilinear", align_corners=False)
    each = kind == "DEPTHWISE_CONV_2D"
    weight = ins[1].permute(*((3, 0, 1, 2) if each else (0, 3, 1, 2)))
    rim = 0 if weight.shape[-1] == 1 else 1
    x = nn.pad(x, (0, 1, 0, 1) if stride > 1 else (rim,) * 4)
    return nn.conv2d(x, weight, ins[2], stride=stride, groups=x.shape[1] if each else 1)


def main() -> None:
    """Record what is named."""
    what = sys.argv[1]
    makers = {"layers": layers, "contours": contours, "faces": lambda: faces(Path(sys.argv[2]))}
    with torch.inference_mode():
        recorded = makers[what]()
    OUT.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(OUT / f"{what}.npz", allow_pickle=False, **recorded)
    print(f"{OUT / what}.npz: {(OUT / f'{what}.npz').stat().st_size} bytes")


if __name__ == "__main__":
    main()
