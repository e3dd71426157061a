"""A close-up: a part of the picture as it will be on paper, for a screen.

Its pixels are those that sheets are printed from, on the same grid; lines, grid and register
marks are drawn by what draws them on sheets, and rendered from PDF. So tones, softness and line
weights are those of the print, and the time it takes depends on the part alone. What JPEG takes
from the pixels of a sheet is left out: no screen shows it either.
"""

from __future__ import annotations

import math
from pathlib import Path

from PIL import Image

from worker.make.style import StyledPicture, apply_style
from worker.pages.close_up import seen_of, write_over
from worker.pages.pack_content import PackContent, PackText
from worker.pdf.raster import rasterise_clear
from worker.picture.enlarge import reduced_size
from worker.picture.found_style import StyleFinder, find_style
from worker.picture.preview import MAX_HEIGHT_PX, Preview, as_preview
from worker.reference.master import Box, Master
from worker.spec.plan import Piece, Plan, Rect, Size
from worker.spec.spec import Spec

#: Between printed pixels no ringing, and hardly softer than they are.
_FILTER = Image.Resampling.HAMMING
#: Pixels around a box that the filter looks at, where it enlarges.
_RIM_PX = 1
#: The lines are rendered at least so fine, in pixels for a millimetre, and then reduced: no
#: renderer draws a line thinner than a pixel, and the thinnest pen is 0.13 mm.
_LINE_PX_PER_MM = 10.0


def close_up(  # noqa: PLR0913 - which part of what, how large, and how it is found.
    master_path: Path,
    spec: Spec,
    plan: Plan,
    part_mm: Rect,
    width_px: int,
    *,
    threads: int = 2,
    find: StyleFinder = find_style,
) -> Preview:
    """Show a part of the picture.

    Args:
        master_path: What intake wrote.
        spec: The spec.
        plan: Its plan.
        part_mm: The part, inside the picture as printed.
        width_px: Of what is shown; less for parts that would become too high.
        threads: How many strips or tiles are worked on at once; it changes nothing of the
            result.
        find: Finds lines or flat tones, or has them already.
    """
    with Master.open(master_path) as master:
        picture = apply_style(master, spec, plan, threads, find=find)
        shown = draw_part(picture, part_mm, width_px)
    return as_preview(shown, picture.posterised)


def draw_part(picture: StyledPicture, part_mm: Rect, width_px: int) -> Image.Image:
    """A part of a picture; mode L, or RGB for one in colour.

    Args:
        picture: A reference with its style.
        part_mm: The part, inside the picture as printed.
        width_px: As above.
    """
    size = reduced_size(Size(part_mm.width, part_mm.height), width_px, MAX_HEIGHT_PX)
    px_per_mm = size[0] / part_mm.width
    paper = Image.new("L" if picture.spec.tone.colour_mode == "grey" else "RGB", size, "white")
    pieces = [piece for piece in picture.plan.pieces if seen_of(piece, part_mm)]
    for piece in pieces:
        _lay(paper, picture, piece, part_mm, px_per_mm)
    return _drawn_over(paper, picture, pieces, part_mm, px_per_mm)


def _lay(
    paper: Image.Image, picture: StyledPicture, piece: Piece, part_mm: Rect, px_per_mm: float
) -> None:
    """Lay the printed pixels of a piece in their place."""
    seen, whole, size = seen_of(piece, part_mm), piece.picture_rect_mm, picture.size_px(piece)
    if seen is None:
        return
    # A pixel of the screen belongs to the piece that has most of it.
    left, right = (round((x - part_mm.left) * px_per_mm) for x in (seen.left, seen.right))
    top, bottom = (round((y - part_mm.top) * px_per_mm) for y in (seen.top, seen.bottom))
    if left >= right or top >= bottom:
        return
    across, down = size[0] / whole.width, size[1] / whole.height
    wanted = (
        max((part_mm.left + left / px_per_mm - whole.left) * across, 0.0),
        max((part_mm.top + top / px_per_mm - whole.top) * down, 0.0),
        min((part_mm.left + right / px_per_mm - whole.left) * across, float(size[0])),
        min((part_mm.top + bottom / px_per_mm - whole.top) * down, float(size[1])),
    )
    box = _around(wanted, size, across / px_per_mm)
    pixels = picture.pixels(piece, box)
    if pixels is not None:
        inside = (wanted[0] - box[0], wanted[1] - box[1], wanted[2] - box[0], wanted[3] - box[1])
        shown = pixels.resize((right - left, bottom - top), _FILTER, box=inside)
        paper.paste(shown, (left, top))


def _around(
    wanted: tuple[float, float, float, float], size: tuple[int, int], reduction: float
) -> Box:
    """Whole pixels of a piece, with as many around as the filter looks at."""
    rim = math.ceil(_RIM_PX * max(reduction, 1.0))
    return (
        max(math.floor(wanted[0]) - rim, 0),
        max(math.floor(wanted[1]) - rim, 0),
        min(math.ceil(wanted[2]) + rim, size[0]),
        min(math.ceil(wanted[3]) + rim, size[1]),
    )


def _drawn_over(
    paper: Image.Image,
    picture: StyledPicture,
    pieces: list[Piece],
    part_mm: Rect,
    px_per_mm: float,
) -> Image.Image:
    """The part with its lines, grid and register marks."""
    finer = max(math.ceil(_LINE_PX_PER_MM / px_per_mm), 1)
    text = PackText(title="", number="")
    pack = PackContent(spec=picture.spec, plan=picture.plan, text=text, aids=picture.aids)
    page = Size(paper.width / px_per_mm, paper.height / px_per_mm)
    pdf = write_over(pack, part_mm, page, pieces)
    over = rasterise_clear(pdf, (paper.width * finer, paper.height * finer))
    over = over.reduce(finer) if finer > 1 else over
    return Image.composite(over.convert(paper.mode), paper, over.getchannel("A"))
