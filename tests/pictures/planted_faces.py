"""Faces at places that a test names, as the reading of a reference has them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from worker.reference.reading_file import reading_bytes
from worker.reference.study_file import load_study, save_study
from worker.spec.reading import Face, Reading
from worker.spec.spec import Area


def planted_face(x: float, y: float, width: float, height: float | None = None) -> Face:
    """A face with its middle at x, y, in shares of the reference.

    The head is half as wide again and half as high again, mostly above the face, and is cut at
    the reference's edges; eyes lie in the upper half (Loomis's proportions, roughly).
    """
    height = width if height is None else height
    box = Area(left=x - width / 2, top=y - height / 2, width=width, height=height)
    left, right = max(x - 0.75 * width, 0.0), min(x + 0.75 * width, 1.0)
    top, bottom = max(y - 0.9 * height, 0.0), min(y + 0.6 * height, 1.0)
    return Face(
        box=box,
        head=Area(left=left, top=top, width=right - left, height=bottom - top),
        eyes=tuple(
            Area(
                left=x + side * width - 0.13 * width,
                top=y - 0.25 * height,
                width=0.26 * width,
                height=0.2 * height,
            )
            for side in (-0.22, 0.22)
        ),
    )


def reading_with(*faces: Face) -> Reading:
    """A reading that sees these faces and nothing else."""
    nothing = np.zeros((1, 1), np.uint8)
    return Reading(
        contour=nothing, outer=nothing, mark=nothing, shadow=nothing, sure=nothing, faces=faces
    )


def plant(data_dir: Path, reference_id: str, *faces: Face) -> Path:
    """Put faces into the study of a reference that a service has taken in.

    A service that has the study in memory must forget it.

    Returns:
        The study's file.
    """
    (path,) = (one for one in data_dir.rglob("study.npz") if reference_id in str(one))
    reading = reading_with(*faces)
    save_study(replace(load_study(path), reading=reading), reading_bytes(reading), path)
    return path
