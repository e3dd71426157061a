"""Record what the published models say of faces, for the tests to compare with.

    PYTHONPATH=. python deploy/training/record_published.py faces FILE
    PYTHONPATH=. python deploy/training/record_published.py landmarks FILE

FILE is the one that `published.convert_faces` or `published.convert_landmarks` was given. The
models' graphs are run here operator by operator, with the weights that we store and with their
own. Each writes a file in tests/unit/reading/recorded. Needs the extra `training`.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import tflite
import torch
from published import convert_faces, convert_landmarks
from published.interpreter import run
from published.weights import EACH_TO_PLANES, TO_PLANES, opened, stored_of
from record_outputs import Arrays, record
from skimage import data

from worker.reading.landmark_numbers import COARSE, COUNT, LIPS, RIGHT_EYE, RIGHT_IRIS
from worker.reading.stored import stored_weights

#: Weights by tensor of a model.
Replaced = dict[int, npt.NDArray[Any]]


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


def landmark_tensors(model: tflite.Model) -> Replaced:
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


def by_tensor(tensors: dict[str, int], name: str) -> Replaced:
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
    return np.ascontiguousarray(data.astronaut()[top : top + side, left : left + side])


def main() -> None:
    """Record what is named."""
    what, model_file = sys.argv[1], Path(sys.argv[2])
    with torch.inference_mode():
        record(what, {"faces": faces, "landmarks": landmarks}[what](model_file))


if __name__ == "__main__":
    main()
