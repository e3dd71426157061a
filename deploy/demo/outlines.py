"""Draws the contact sheets of outlines: photographs beside the lines that are found in them.

    python deploy/demo/outlines.py [--folder deploy/demo/pictures]

The photographs are those that scikit-image and scikit-learn ship (both are among what the
tests need). Whoever changes the search for lines looks at these sheets, again and again.
"""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import skimage.data
import sklearn.datasets
from PIL import Image, ImageDraw

from worker.layout.planning import plan_sheets
from worker.picture.outline import find_strokes
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.reference.master import Master
from worker.spec.spec import Outline, Spec, Support, Tone
from worker.spec.strokes import Strokes, line_widths_mm

_FOLDER = Path(__file__).parent / "pictures"
#: Prints are 20 cm wide, and shown at this many pixels to the millimetre.
_WIDTH_MM, _PX_PER_MM = 200.0, 2
#: Lines are drawn this much finer, then averaged.
_FINER = 4
_GAP_PX = 12
_LINE_MM = 0.35
#: Photographs of the first sheet, two to a row; and the one of the second, over its details.
_SHOWN = ("astronaut", "camera", "cat", "coffee", "rocket", "china", "flower", "page")
_DETAILS = (0.2, 0.5, 0.8)
#: Parts of small letters are shorter than what is left out by default.
_SHORTEST_MM = {"page": 2.0}


def _photo(name: str) -> Image.Image:
    """A photograph by its name."""
    if name in {"china", "flower"}:
        values = sklearn.datasets.load_sample_image(f"{name}.jpg")
    else:
        load: Callable[[], object] = getattr(skimage.data, name)
        values = load()
    return Image.fromarray(np.asarray(values)).convert("RGB")


def _lines(
    photo: Image.Image, detail: float, shortest_mm: float = Outline.shortest_mm
) -> Image.Image:
    """The print of a photograph in lines."""
    height_mm = round(_WIDTH_MM * photo.height / photo.width)
    outline = Outline(line_mm=_LINE_MM, detail=detail, shortest_mm=shortest_mm)
    spec = Spec(
        support=Support(width_mm=_WIDTH_MM, height_mm=height_mm),
        tone=Tone(style="outline", outline=outline),
    )
    data = io.BytesIO()
    photo.save(data, "PNG")
    data.seek(0)
    with tempfile.TemporaryDirectory() as place:
        study = take_in(data, Path(place), Limits()).study
        with Master.open(Path(place) / "master.zip") as master:
            strokes = find_strokes(master, spec, plan_sheets(spec, study))
    return _drawn(strokes, (round(_WIDTH_MM * _PX_PER_MM), round(height_mm * _PX_PER_MM)))


def _drawn(strokes: Strokes, size: tuple[int, int]) -> Image.Image:
    """Strokes as a pen of their weight draws them."""
    paper = Image.new("L", (size[0] * _FINER, size[1] * _FINER), "white")
    pen, scale = ImageDraw.Draw(paper), _PX_PER_MM * _FINER
    widths_px = [round(width * scale) for width in line_widths_mm(_LINE_MM)]
    t = np.linspace(0.0, 1.0, 9)[:, None]
    shares = np.stack(((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3))
    for number, weight in enumerate(strokes.weight):
        curves = strokes.curves_mm[strokes.first[number] : strokes.first[number + 1]]
        places = (shares[None] * curves[:, :, None]).sum(axis=1).reshape(-1, 2) * scale
        pen.line([*map(tuple, places.tolist())], "black", widths_px[weight], "curve")
    return paper.reduce(_FINER)


def _joined(rows: list[list[Image.Image]]) -> Image.Image:
    """Pictures in rows, white between them."""
    heights = [max(picture.height for picture in row) for row in rows]
    width = max(sum(picture.width + _GAP_PX for picture in row) for row in rows) - _GAP_PX
    sheet = Image.new("RGB", (width, sum(heights) + _GAP_PX * (len(rows) - 1)), "white")
    top = 0
    for row, height in zip(rows, heights, strict=True):
        left = 0
        for picture in row:
            sheet.paste(picture, (left, top))
            left += picture.width + _GAP_PX
        top += height + _GAP_PX
    return sheet


def _beside(name: str) -> list[Image.Image]:
    photo = _photo(name)
    lines = _lines(photo, 0.5, _SHORTEST_MM.get(name, Outline.shortest_mm))
    return [photo.resize(lines.size, Image.Resampling.LANCZOS), lines]


def draw(folder: Path) -> list[Path]:
    """Write both sheets into `folder`, and give their paths."""
    pairs = [_beside(name) for name in _SHOWN]
    photos = _joined([one + two for one, two in zip(pairs[::2], pairs[1::2], strict=True)])
    face = _photo("astronaut")
    details = _joined([[_lines(face, detail) for detail in _DETAILS]])
    paths = [folder / "lines-photos.jpg", folder / "lines-detail.png"]
    photos.save(paths[0], quality=80, optimize=True)
    details.convert("L").quantize(16).save(paths[1], optimize=True)
    return paths


def main() -> int:
    """Draw, and tell how large the files are."""
    parser = argparse.ArgumentParser(description="Draw the contact sheets of outlines.")
    parser.add_argument("--folder", type=Path, default=_FOLDER)
    for path in draw(parser.parse_args().folder):
        sys.stderr.write(f"{path.name}: {path.stat().st_size / 1e3:.0f} kB\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
