"""The study of a reference on disk: what layout needs to know, without decoding any picture.

A plan must be ready while a finger moves on the page, so reading must be fast.
"""

from __future__ import annotations

from concurrent.futures import Executor
from pathlib import Path

import numpy as np
from PIL import Image

from worker.arrays import arrays_in
from worker.reference.detail_map import detail_levels
from worker.reference.reading_file import reading_from
from worker.spec.study import DetailLevel, ReferenceStudy

#: The longer side of grey values of the reduced picture.
THUMB_PX = 320


def study_of(
    grey: Image.Image,
    size_px: tuple[int, int],
    shrink: int,
    threads: Executor,
) -> ReferenceStudy:
    """Study a reference of `size_px`, given as grey (mode L), each pixel `shrink` wide.

    What is read in it, and what it resolves, are found elsewhere.
    """
    share = min(THUMB_PX / max(size_px), 1.0)
    thumb_size = (max(round(size_px[0] * share), 1), max(round(size_px[1] * share), 1))
    whole = (0.0, 0.0, size_px[0] / shrink, size_px[1] / shrink)
    thumb = grey.resize(thumb_size, Image.Resampling.BOX, box=whole)
    return ReferenceStudy(
        width_px=size_px[0],
        height_px=size_px[1],
        levels=detail_levels(grey, size_px, shrink, threads),
        thumb=np.asarray(thumb),
    )


def save_study(study: ReferenceStudy, packed_reading: bytes, path: Path) -> None:
    """Write a study as a NumPy archive, without pickles.

    Args:
        study: What is written.
        packed_reading: `reading_bytes` of its reading, which the master holds too.
        path: The file.
    """
    arrays = {f"density_{index}": level.density for index, level in enumerate(study.levels)}
    with path.open("wb") as file:
        np.savez(
            file,
            allow_pickle=False,
            size_px=np.array([study.width_px, study.height_px]),
            pixel_sizes_px=np.array([level.pixel_size_px for level in study.levels]),
            thumb=study.thumb,
            reading=np.frombuffer(packed_reading, np.uint8),
            resolved_px=np.array(study.resolved_px),
            **arrays,
        )


def load_study(path: Path) -> ReferenceStudy:
    """Read what `save_study` wrote."""
    arrays = arrays_in(path)
    width_px, height_px = (int(side) for side in arrays["size_px"])
    return ReferenceStudy(
        width_px=width_px,
        height_px=height_px,
        levels=tuple(
            DetailLevel(density=arrays[f"density_{index}"], pixel_size_px=float(size))
            for index, size in enumerate(arrays["pixel_sizes_px"])
        ),
        thumb=arrays["thumb"],
        reading=reading_from(arrays["reading"].tobytes()),
        resolved_px=float(arrays["resolved_px"]),
    )
