"""The strokes of a finished pack's map, stored beside the pack.

A student's cover shows the same picture as their pack's map. Finding its lines again takes
seconds, and a class has thirty packs. So the lines of the map are stored when the pack is made,
in whole hundredths of a millimetre, as sheets draw them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from worker.arrays import arrays_in
from worker.pdf.stroke_paths import UNITS_PER_MM, LineWork
from worker.spec.strokes import Strokes

#: File name in the pack's folder.
NAME = "strokes.npz"


def write_strokes(path: Path, lines: LineWork, most: int) -> None:
    """Write the longest strokes; the same strokes give the same bytes.

    Args:
        path: The file to write.
        lines: The strokes.
        most: About how many curves to write.

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
    """Read what `write_strokes` wrote, in millimetres of the picture.

    Raises:
        OSError: The file cannot be read.
        ValueError, KeyError, zipfile.BadZipFile: It is not a file of strokes.
    """
    kept = arrays_in(path)
    return Strokes(
        curves_mm=kept["curves"].astype(np.float32).reshape(-1, 4, 2) / np.float32(UNITS_PER_MM),
        first=kept["first"],
        weight=kept["weight"],
        length_mm=kept["length_mm"],
    )
