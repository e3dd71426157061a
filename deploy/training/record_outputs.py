"""Record what PyTorch makes of the networks and their layers, for the tests to compare with.

    python deploy/training/record_outputs.py layers
    python deploy/training/record_outputs.py contours     # after each training
    python deploy/training/record_outputs.py faces package/face_detection_full_range.tflite
    python deploy/training/record_outputs.py landmarks package/face_mesh_solution_packed_assets.data

Each writes a file in tests/unit/reading/recorded. Faces and landmarks are recorded from the
published files, whose graphs are run here operator by operator. Needs the extra `training`.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import convert_faces
import convert_landmarks
import numpy as np
import numpy.typing as npt
import tflite
import torch
from interpreter import run
from net import ContourNet, loaded
from PIL import Image
from published import EACH_TO_PLANES, TO_PLANES, opened, stored_of
from torch.nn import functional as nn

from worker.reading.landmark_numbers import COARSE, COUNT, LIPS, RIGHT_EYE, RIGHT_IRIS
from worker.reading.stored import stored_weights

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

Arrays = dict[Any, npt.NDArray[Any]]


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
    """The published model over part of a photograph; rows of outputs are places.

    `odds` and `places` are of the stored weights, which are rounded, `published_odds` of its own.
    """
    model = opened(model_file)
    pixels = photograph(40, 160, 128)
    view = torch.tensor(pixels).permute(2, 0, 1)[None] / 127.5 - 1
    ours = by_tensor(convert_faces.tensors(model), "faces.npz.xz")
    places, odds = run(model, view, ours)
    published = run(model, view)[1]
    return {
        "pixels": pixels,
        "odds": odds[0, 0].numpy(),
        "places": places[0].numpy(),
        "published_odds": published[0, 0].numpy(),
    }


def landmarks(model_file: Path) -> Arrays:
    """The published model over a face in a photograph, in the order of the published numbers.

    `points` are of the stored weights, which are rounded, `published_points` of its own.
    """
    model = opened(model_file)
    pixels = photograph(14, 132, 192)
    view = torch.tensor(pixels).permute(2, 0, 1)[None] / 255
    ours = landmark_tensors(model)
    kept = {}
    for name, weights in (("", ours), ("published_", None)):
        mesh, lips, eye, _, iris, _, odds = (one.reshape(-1) for one in run(model, view, weights))
        points = torch.full((COUNT, 2), torch.nan)
        points[list(COARSE)] = mesh.reshape(-1, 3)[list(COARSE), :2]
        for numbers, said in ((LIPS, lips), (RIGHT_EYE, eye), (RIGHT_IRIS, iris)):
            points[list(numbers)] = said.reshape(-1, 2)
        kept |= {f"{name}points": points.numpy(), f"{name}odds": odds.numpy()}
    return {"pixels": pixels, **kept}


def landmark_tensors(model: tflite.Model) -> Arrays:
    """Stored weights for the model: what is not stored stays as it is there."""
    tensors = convert_landmarks.tensors(model)
    stored = by_tensor(
        {name: one for name, one in tensors.items() if not name.startswith("other.")},
        "landmarks.npz.xz",
    )
    own = stored_of(model)
    for what in ("weight", "bias"):
        tensor = tensors[f"face.out.{what}"]
        rows = own[tensor].astype(np.float32).reshape(-1, 3, *own[tensor].shape[1:])
        rows[list(COARSE), :2] = stored[tensor].reshape(-1, 2, *rows.shape[2:])
        stored[tensor] = rows.reshape(own[tensor].shape)
    return stored


def by_tensor(tensors: dict[str, int], name: str) -> Arrays:
    """Stored weights with axes as a published model has them, by its tensors."""
    weights = stored_weights(name)
    return {tensor: as_published(weights[one]) for one, tensor in tensors.items()}


def as_published(value: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Weights of each plane by itself have one plane in."""
    if value.ndim < 4:
        return value
    axes = EACH_TO_PLANES if value.shape[1] == 1 else TO_PLANES
    return np.ascontiguousarray(value.transpose(np.argsort(axes)))


def photograph(top: int, left: int, side: int) -> npt.NDArray[np.uint8]:
    """A square of one that anyone can get."""
    from skimage import data  # noqa: PLC0415 - the other commands do without it.

    return np.ascontiguousarray(data.astronaut()[top : top + side, left : left + side])


def main() -> None:
    """Record what is named."""
    what = sys.argv[1]
    makers = {
        "layers": layers,
        "contours": contours,
        "faces": lambda: faces(Path(sys.argv[2])),
        "landmarks": lambda: landmarks(Path(sys.argv[2])),
    }
    with torch.inference_mode():
        recorded = makers[what]()
    OUT.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(OUT / f"{what}.npz", allow_pickle=False, **recorded)
    print(f"{OUT / what}.npz: {(OUT / f'{what}.npz').stat().st_size} bytes")


if __name__ == "__main__":
    main()
