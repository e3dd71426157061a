"""Photographs beside their outlines as they would be printed, one picture file for each.

    .venv/bin/python -m tests.bench contacts FOLDER OUT [--detail 0.35,0.5] [--only NAME,NAME]

For eyes: whoever changes the search for lines looks at them before and after. Photographs are
whole here, on a support of their own proportion with the area of 60 x 40 cm.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageOps

from tests.bench.photo_lines import Photo, photos_in, taken
from worker.spec.spec import Outline
from worker.spec.strokes import Strokes, line_widths_mm

#: The longer side of either picture.
SIDE_PX = 1540
#: Lines are drawn this much finer, then averaged: widths differ by less than a pixel.
_FINER = 8
_GAP_PX = 16


def drawn(strokes: Strokes, size_mm: tuple[float, float], px_per_mm: float) -> Image.Image:
    """Black strokes on white, as heavy as a pack draws them at its default."""
    scale = px_per_mm * _FINER
    paper = Image.new("L", tuple(round(side * px_per_mm) * _FINER for side in size_mm), "white")
    pen = ImageDraw.Draw(paper)
    widths_px = [round(width * scale) for width in line_widths_mm(Outline.line_mm)]
    t = np.linspace(0.0, 1.0, 9)[:, None]
    shares = np.stack(((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3))
    for number, weight in enumerate(strokes.weight):
        curves = strokes.curves_mm[strokes.first[number] : strokes.first[number + 1]]
        places = (shares[None] * curves[:, :, None]).sum(axis=1).reshape(-1, 2) * scale
        pen.line([*map(tuple, places.tolist())], "black", max(widths_px[weight], 1), "curve")
    return paper.reduce(_FINER)


def beside(path: Path, photo: Photo, detail: float) -> Image.Image:
    """A photograph and its lines."""
    size_mm = (photo.width_mm, photo.height_mm)
    lines = drawn(photo.outlines(detail), size_mm, SIDE_PX / max(size_mm))
    shown = ImageOps.exif_transpose(Image.open(path)).convert("RGB").resize(lines.size)
    sheet = Image.new("RGB", (2 * lines.width + _GAP_PX, lines.height), "grey")
    sheet.paste(shown, (0, 0))
    sheet.paste(lines, (lines.width + _GAP_PX, 0))
    return sheet


def report(arguments: Sequence[str]) -> None:
    """Write `OUT/NAME-DETAIL.png` for each photograph and detail."""
    parser = argparse.ArgumentParser("python -m tests.bench contacts", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--detail", default=str(Outline.detail), help="one, or with commas")
    parser.add_argument("--only", help="names, with commas between them")
    options = parser.parse_args(arguments)
    only = options.only.split(",") if options.only else None
    options.out.mkdir(parents=True, exist_ok=True)
    for path in photos_in(options.folder):
        if only and path.stem not in only:
            continue
        with taken(path, whole=True) as photo:
            for detail in map(float, options.detail.split(",")):
                kept = options.out / f"{path.stem}-{detail:g}.png"
                beside(path, photo, detail).save(kept)
                print(kept, flush=True)
