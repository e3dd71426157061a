"""Renders the README's pictures from the demo's packs: reference, map, sheet, guide, aids.

    python deploy/demo/pictures.py [--reference photo.jpg]

Without a photograph it takes the demo's own: `still_life.jpg` beside this file, 12 megapixels,
rendered for this project and free to use under its licence. The pack is made by the same code
that makes everybody's, so that the pictures show what a person will hold in hand.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from PIL import Image

from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.pdf.raster import rasterise
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.plan import Plan
from worker.spec.spec import Area, Grid, Seams, Spec, Support, Tone
from worker.spec.study import ReferenceStudy

TITLE = "Jug, pears and linen"
#: The card with its lettering, in shares of the picture.
LETTERING = Area(left=0.637, top=0.540, width=0.132, height=0.145)
SPEC = Spec(
    support=Support(width_mm=600, height_mm=400),
    seams=Seams(placement="quiet", protect=(LETTERING,)),
)
#: The same sheet as lines, lines over grey, flat tones, and under a grid.
AIDS = (
    replace(SPEC, tone=Tone(style="outline")),
    replace(SPEC, tone=Tone(style="mixed")),
    replace(SPEC, tone=Tone(style="values")),
    replace(SPEC, grid=Grid(square_mm=50)),
)
#: What they are shown of, jug and pears, in shares of the picture.
_PEARS = (0.45, 0.6)
#: Two beside each other, this wide, with so much between them.
_AID_PX, _GAP_PX = 600, 12
#: Quiet enough for a page on the web, sharp enough to read the large print.
_LONG_SIDE_PX = 1200
_PPI = 100.0
_FOLDER = Path(__file__).parent / "pictures"
STILL_LIFE = Path(__file__).parent / "still_life.jpg"


def _shrunk(picture: Image.Image) -> Image.Image:
    """The picture with its longer side at most `_LONG_SIDE_PX`."""
    small = picture.convert("RGB")
    small.thumbnail((_LONG_SIDE_PX, _LONG_SIDE_PX), Image.Resampling.LANCZOS)
    return small


def page_of(made: Plan, share: tuple[float, float]) -> int:
    """Page of the sheet that holds a place of the picture, or else the first one."""
    x, y = share[0] * made.picture.width_mm, share[1] * made.picture.height_mm
    for piece in made.pieces:
        rect = piece.picture_rect_mm
        if rect.left <= x < rect.right and rect.top <= y < rect.bottom:
            return piece.page
    return made.first_sheet_page


def _lettered(made: Plan) -> int:
    """Page of the sheet that holds the lettering."""
    middle = LETTERING.left + LETTERING.width / 2, LETTERING.top + LETTERING.height / 2
    return page_of(made, middle)


def make(spec: Spec, study: ReferenceStudy, folder: Path) -> tuple[Path, Plan]:
    """A pack of what was taken in, and its plan."""
    made = plan_sheets(spec, study)
    place = Path(tempfile.mkdtemp(dir=folder))
    files = make_pack(folder / "master.zip", spec, made, title=TITLE, folder=place)
    return files.pack_pdf, made


def _aids(study: ReferenceStudy, folder: Path) -> Image.Image:
    """One sheet in every style, as it is held to look at: upright."""
    sheets = []
    for spec in AIDS:
        pack, made = make(spec, study, folder)
        page = rasterise(pack, page_of(made, _PEARS), _PPI).convert("RGB")
        page = page.transpose(Image.Transpose.ROTATE_90)
        height_px = round(_AID_PX * page.height / page.width)
        sheets.append(page.resize((_AID_PX, height_px), Image.Resampling.LANCZOS))
    across_px, down_px = (side + _GAP_PX for side in sheets[0].size)
    board = Image.new("RGB", (2 * across_px - _GAP_PX, 2 * down_px - _GAP_PX), "#b9b4ab")
    for number, sheet in enumerate(sheets):
        row, column = divmod(number, 2)
        board.paste(sheet, (column * across_px, row * down_px))
    return board


def _flat(page: Image.Image) -> Image.Image:
    """Few colours are enough for lines and letters, and a third of the bytes."""
    return _shrunk(page).quantize(64, dither=Image.Dither.NONE)


def draw(reference: Path, folder: Path) -> list[Path]:
    """Write the pictures into `folder`.

    Args:
        reference: The photograph.
        folder: Made if it is not there.

    Returns:
        The files, in the order in which the README shows them.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        with reference.open("rb") as source:
            study = take_in(source, Path(place), Limits()).study
        pack, made = make(SPEC, study, Path(place))
        pages = {"map": 1, "guide": 2, "sheet": _lettered(made)}
        drawn = {name: rasterise(pack, page, _PPI) for name, page in pages.items()}
        aids = _aids(study, Path(place))
    paths = [
        folder / "reference.jpg",
        folder / "map.jpg",
        folder / "sheet.jpg",
        folder / "guide.png",
        folder / "aids.jpg",
    ]
    with Image.open(reference) as photo:
        _shrunk(photo).save(paths[0], quality=88, icc_profile=photo.info.get("icc_profile"))
    for path in paths[1:3]:
        _shrunk(drawn[path.stem]).save(path, quality=88, optimize=True)
    _flat(drawn["guide"]).save(paths[3], optimize=True)
    aids.save(paths[4], quality=80, optimize=True)
    return paths


def run(description: str, draw_into: Callable[[Path, Path], Iterable[Path]]) -> int:
    """Draw the pictures, and tell their sizes.

    Args:
        description: What the script says of itself.
        draw_into: Draws from a reference into a folder; gives the files' paths.
    """
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--reference", type=Path, default=STILL_LIFE, help="a photograph, 3:2")
    parser.add_argument("--folder", type=Path, default=_FOLDER)
    asked = parser.parse_args()
    for path in draw_into(asked.reference, asked.folder):
        sys.stderr.write(f"{path.name}: {path.stat().st_size / 1e3:.0f} kB\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(run("Render the README's pictures.", draw))
