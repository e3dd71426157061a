"""The lines of a finished pack, read back from its assembly map.

A cover shows what the pack shows. Finding a picture's lines again takes seconds, and a class
has thirty; the map has them already, in small. Only what `strokes.draw_small_strokes` writes
is read, and where a pack has nothing of the kind there are no lines.
"""

from __future__ import annotations

import re
import zlib
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from worker.drawing.binding import read_object, read_source
from worker.drawing.linework import SMALL_UNITS_PER_MM
from worker.drawing.strokes import SMALL_WIDTHS_MM
from worker.layout.strokes import Strokes
from worker.units import mm_to_pt

_CONTENTS = re.compile(rb"/Contents (\d+) 0 R")
_STREAM = re.compile(rb"stream\r?\n(.*)endstream", re.DOTALL)
_NUMBER = rb"(-?[\d.]+)"
#: The clip to the picture, the matrix to units of the map, and all paths up to its end.
_LINES = re.compile(
    rb"q [-\d.]+ [-\d.]+ %b [-\d.]+ re W n\n%b 0 0 -[\d.]+ [-\d.]+ [-\d.]+ cm\n(.*?)\nQ\b"
    % (_NUMBER, _NUMBER),
    re.DOTALL,
)
_WEIGHT_OF = {f"{width * SMALL_UNITS_PER_MM:g}": at for at, width in enumerate(SMALL_WIDTHS_MM)}
_Curve = tuple[float, ...]


def read_map_lines(pack: BinaryIO, width_mm: float) -> Strokes:
    """The strokes on page 1 of one of our packs, in millimetres of the picture.

    Args:
        pack: The file, open.
        width_mm: Of the picture.

    Raises:
        ValueError: It is no PDF of ours.
    """
    source = read_source(pack)
    page = read_object(pack, source, source.kids[0])
    contents = _CONTENTS.search(page)
    stream = _STREAM.search(read_object(pack, source, int(contents[1]))) if contents else None
    unit = f"{mm_to_pt(1 / SMALL_UNITS_PER_MM):.9f}".encode()
    drawn = zlib.decompress(stream[1]) if stream else b""
    for clip_pt, scale, paths in _LINES.findall(drawn):
        if scale == unit:
            return _strokes(paths.decode("ascii"), width_mm * float(unit) / float(clip_pt))
    return _strokes("", 1.0)


def _strokes(paths: str, unit_mm: float) -> Strokes:
    """Strokes of path operators (ISO 32000-1, table 59), one path each."""
    curves: list[_Curve] = []
    first, weights = [0], list[int]()
    weight, at = 0, (0.0, 0.0)
    for *numbers, operator in _operations(paths):
        if operator == "w":
            weight = _WEIGHT_OF.get(numbers[0], 0)
        elif operator == "S":
            first.append(len(curves))
            weights.append(weight)
        elif operator in {"m", "c", "l"}:
            values = tuple(map(float, numbers))
            if operator != "m":
                curves.append((*at, *values) if operator == "c" else _straight(at, values))
            at = values[-2], values[-1]
    points = np.array(curves, np.float32).reshape(-1, 4, 2) * np.float32(unit_mm)
    starts = np.array(first, np.int32)
    return Strokes(
        curves_mm=points,
        first=starts,
        weight=np.array(weights, np.uint8),
        length_mm=_lengths_mm(points, starts),
    )


def _operations(paths: str) -> list[list[str]]:
    """Each operator behind its operands."""
    found: list[list[str]] = [[]]
    for token in paths.split():
        found[-1].append(token)
        if token.isalpha():
            found.append([])
    return [one for one in found if one and one[-1].isalpha()]


def _straight(start: tuple[float, float], end: tuple[float, ...]) -> _Curve:
    """A line as a curve, its handles at the thirds."""
    (x0, y0), (x1, y1) = start, end
    step_x, step_y = (x1 - x0) / 3, (y1 - y0) / 3
    return (x0, y0, x0 + step_x, y0 + step_y, x1 - step_x, y1 - step_y, x1, y1)


def _lengths_mm(
    curves: npt.NDArray[np.float32], first: npt.NDArray[np.int32]
) -> npt.NDArray[np.float32]:
    """Along the handles: enough to tell long strokes from short ones."""
    reach = np.linalg.norm(np.diff(curves, axis=1), axis=2).sum(axis=1)
    total = np.concatenate([[0.0], np.cumsum(reach)])
    return np.asarray(np.diff(total[first]), np.float32)
