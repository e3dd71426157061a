"""Draws the contact sheets of print: a page of each kind of twelve packs, and details from a laser.

    python deploy/demo/contact_sheets.py [--reference photo.jpg] [--folder deploy/demo/pictures]

Whoever changes a page looks at both. Tests of a pack say that lengths are true and nothing is cut
off; whether a page is one that a person would hand out, only an eye says. Details need what the
tests need.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
from packs import MadePack, made
from pictures import run
from PIL import Image, ImageDraw, ImageFont

from worker.pdf.raster import rasterise
from worker.units import PT_PER_INCH, mm_to_pt

ROOT = Path(__file__).resolve().parents[2]
#: Pages are drawn at this, then made this wide; three packs lie in a row.
_PPI, _PAGE_PX = 100.0, 168
_GAP_PX, _TITLE_PX, _TYPE_PX = 8, 26, 16
_PACKS_IN_ROW = 3
_GROUND = "#b9b4ab"
#: What a laser has, and how much of a page each detail shows, in mm.
_LASER_PPI = 600
_DETAIL_MM = (22.0, 13.0)
_DETAILS_IN_ROW = 3
_Screen = Callable[[Any], Any]


@dataclass(frozen=True)
class Detail:
    """A place of a page: what it shows, of which pack and kind of page, its top left in mm."""

    shows: str
    pack: str
    kind: str
    left_mm: float
    top_mm: float


DETAILS = (
    Detail("head of a sheet", "grey", "sheet", 4, 3.5),
    Detail("cut, tick and mark at a corner", "lines", "sheet", 186, 4),
    Detail("scale bar and foot", "values", "sheet", 90, 281),
    Detail("key of tones", "values", "sheet", 93, 3.5),
    Detail("flap", "A5", "sheet", 140, 96),
    Detail("lap", "lapped", "sheet", 184, 101),
    Detail("squares and diagonals", "grid", "sheet", 44, 38),
    Detail("map: seam and tape", "mirrored", "map", 81, 98),
    Detail("guide", "dark", "guide 1", 46, 30),
)


def draw(reference: Path, folder: Path) -> list[Path]:
    """Write both sheets into `folder`.

    Args:
        reference: The photograph.
        folder: Made if it is not there.

    Returns:
        Their paths.
    """
    folder.mkdir(parents=True, exist_ok=True)
    strips: list[Image.Image] = []
    details: dict[Detail, Image.Image] = {}
    with tempfile.TemporaryDirectory() as place:
        for pack in made(reference, Path(place)):
            strips.append(_strip(pack))
            details |= {one: _printed(pack, one) for one in DETAILS if one.pack == pack.name}
    paths = [folder / "sheets-packs.jpg", folder / "sheets-laser.png"]
    _in_rows(strips, _PACKS_IN_ROW).save(paths[0], quality=78, optimize=True)
    laser = _in_rows([details[one] for one in DETAILS], _DETAILS_IN_ROW)
    laser.convert("L").quantize(4, dither=Image.Dither.NONE).save(paths[1], optimize=True)
    return paths


def _strip(pack: MadePack) -> Image.Image:
    """A page of each kind of one pack, side by side under its name."""
    pages = [rasterise(pack.pdf, page, _PPI) for page in pack.kinds.values()]
    height = round(_PAGE_PX * pages[0].height / pages[0].width)
    strip = Image.new("RGB", (len(pages) * (_PAGE_PX + _GAP_PX), height), _GROUND)
    for number, page in enumerate(pages):
        small = page.resize((_PAGE_PX, height), Image.Resampling.LANCZOS)
        strip.paste(small, (number * (_PAGE_PX + _GAP_PX), 0))
    return _titled(strip, pack.name)


def _printed(pack: MadePack, detail: Detail) -> Image.Image:
    """A detail as a laser prints it: no edge is softened, and greys are screened into dots."""
    document = pypdfium2.PdfDocument(pack.pdf)
    try:
        page = document[pack.kinds[detail.kind] - 1]
        width, height = (mm_to_pt(side) for side in _DETAIL_MM)
        left, top = mm_to_pt(detail.left_mm), mm_to_pt(detail.top_mm)
        around = (left, page.get_height() - top - height, page.get_width() - left - width, top)
        bitmap = page.render(
            scale=_LASER_PPI / PT_PER_INCH,
            crop=around,
            grayscale=True,
            no_smoothtext=True,
            no_smoothpath=True,
        )
        grey = bitmap.to_numpy().squeeze().copy()
    finally:
        document.close()
    return _titled(Image.fromarray(_screen()(grey)), f"{detail.shows} ({pack.name})")


def _screen() -> _Screen:
    """The laser of the tests, so that there is one: it is found from the checkout's root."""
    sys.path.append(str(ROOT))
    found: _Screen = import_module("tests.prints.joined_marks").screened
    return found


def _titled(picture: Image.Image, title: str) -> Image.Image:
    """A picture with its title above it."""
    sheet = Image.new("RGB", (picture.width, picture.height + _TITLE_PX), _GROUND)
    sheet.paste(picture, (0, _TITLE_PX))
    pen = ImageDraw.Draw(sheet)
    pen.text((2, 4), title, "black", ImageFont.load_default(_TYPE_PX))
    return sheet


def _in_rows(pictures: list[Image.Image], in_row: int) -> Image.Image:
    """Pictures one after the other, so many to a row."""
    rows = [pictures[first : first + in_row] for first in range(0, len(pictures), in_row)]
    sizes = [
        (sum(one.width + _GAP_PX for one in row), max(one.height for one in row) + _GAP_PX)
        for row in rows
    ]
    sheet = Image.new("RGB", (max(wide for wide, _ in sizes), int(np.sum(sizes, 0)[1])), _GROUND)
    top = _GAP_PX // 2
    for row, (_, height) in zip(rows, sizes, strict=True):
        left = _GAP_PX // 2
        for one in row:
            sheet.paste(one, (left, top))
            left += one.width + _GAP_PX
        top += height
    return sheet


if __name__ == "__main__":
    raise SystemExit(run("Draw the contact sheets of print.", draw))
