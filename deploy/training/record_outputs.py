"""Record what PyTorch makes of the networks and their layers, for the tests to compare with.

    python deploy/training/record_outputs.py layers
    python deploy/training/record_outputs.py contours     # after each training, of either network

Each writes a file in tests/unit/reading/recorded. What published models say of faces is recorded
by `record_published.py`. Needs the extra `training`.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import torch
from kept import loaded, unpacked
from net import ContourNet, SubjectNet
from PIL import Image
from torch.nn import functional as nn

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "tests" / "unit" / "reading" / "recorded"
WEIGHTS = ROOT / "worker" / "reading" / "weights"
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
    """The networks of the stored weights over part of a photograph, at full precision."""
    net, beside = ContourNet(), SubjectNet()
    net.load_state_dict(loaded(unpacked(WEIGHTS / "contours.npz.xz")))
    beside.load_state_dict(loaded(unpacked(WEIGHTS / "subjects.npz.xz")))
    pixels = np.asarray(Image.open(PHOTO).resize((480, 360), Image.Resampling.BOX))[
        190:286, 190:270
    ]
    # Sides are filled up to multiples of 32, as NumPy's `symmetric` does it.
    filled = np.pad(pixels, ((0, -96 % 32), (0, -80 % 32), (0, 0)), mode="symmetric")
    x = torch.tensor(filled).permute(2, 0, 1)[None] / 255
    logits, subject = net(x)[0, :, :96, :80], beside(net.planes(x))[0, 0, :24, :20]
    return {"pixels": pixels, "logits": logits.numpy(), "subject": subject.numpy()}


def record(what: str, arrays: Arrays) -> None:
    """Write a file for the tests, and say how large it is."""
    OUT.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(OUT / f"{what}.npz", allow_pickle=False, **arrays)
    print(f"{OUT / what}.npz: {(OUT / f'{what}.npz').stat().st_size} bytes")


def main() -> None:
    """Record what is named."""
    what = sys.argv[1]
    with torch.inference_mode():
        record(what, {"layers": layers, "contours": contours}[what]())


if __name__ == "__main__":
    main()
