"""The strokes of a finished pack's map, kept beside the pack.

A student's cover shows what their pack shows. Finding a picture's lines again takes seconds,
and a class has thirty; so those that the map draws are kept when the pack is made, in whole
hundredths of a millimetre, as the sheets draw them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from worker.pdf.stroke_paths import UNITS_PER_MM, LineWork
from worker.spec.strokes import Strokes

#: Where it lies beside the pack.
NAME = "strokes.npz"


def write_strokes(path: Path, lines: LineWork, most: int) -> None:
    """Keep the longest strokes; the same strokes give the same bytes.

    Args:
        path: Where to.
        lines: The strokes.
        most: Curves in all, about.

    Raises:
        OSError: The file cannot be written.
    """
    kept = lines.of_longest(most)
    np.savez_compressed(
        path,
        curves=LineWork(strokes=kept, line_mm=lines.line_mm).numbers,
        first=kept.first,
        weight=kept.weight,
        length_mm=kept.length_mm,
    )


def read_strokes(path: Path) -> Strokes:
    """What `write_strokes` kept, in millimetres of the picture.

    Raises:
        OSError: The file cannot be read.
        ValueError: It is none of ours.
        KeyError: The same.
    """
    with np.load(path, allow_pickle=False) as kept:
        curves = kept["curves"].astype(np.float32).reshape(-1, 4, 2) / np.float32(UNITS_PER_MM)
        return Strokes(
            curves_mm=curves,
            first=kept["first"],
            weight=kept["weight"],
            length_mm=kept["length_mm"],
        )
