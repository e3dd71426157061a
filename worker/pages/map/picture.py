"""The faint picture below the map, and how what is protected shows on it."""

from __future__ import annotations

import io

from PIL import Image

from worker.pages.map.legend import PROTECTED
from worker.pages.map.placement import MapPlacement
from worker.pdf.canvas import PdfCanvas
from worker.spec.plan import Rect
from worker.spec.tone_curve import lightening

#: How much paper shows through the picture: labels and seams must lead.
_VEIL = 0.62
#: Without a veil as thin as this a picture looks no clearer.
_LEAST_VEIL = 0.25
_JPEG_QUALITY = 82


def draw_faint_picture(canvas: PdfCanvas, placement: MapPlacement, faint: Image.Image) -> None:
    """The picture with as much paper showing through in every style: some are pale already.

    What no seam crosses has no veil, or where the picture is pale a ground: a frame would be a
    line over a face.
    """
    if canvas.grey:
        faint = faint.convert("L")
    shown = max(1.0 - lightening(placement.pack.spec.tone), 1.0 - _VEIL)
    veil = 1.0 - (1.0 - _VEIL) / shown
    veiled = Image.blend(faint, Image.new(faint.mode, faint.size, _white(faint.mode)), veil)
    clear = (
        faint if veil > _LEAST_VEIL else faint.point(lambda value: round(value * PROTECTED.luma))
    )
    for area in placement.pack.plan.protected_mm:
        box = _pixels(area, faint.width / placement.pack.plan.picture.width_mm)
        veiled.paste(clear.crop(box), box[:2])
    data = io.BytesIO()
    veiled.save(data, "JPEG", quality=_JPEG_QUALITY)
    canvas.jpeg(
        data.getvalue(), faint.size, placement.picture, grey=faint.mode == "L", turned=False
    )


def _white(mode: str) -> int | tuple[int, int, int]:
    return 255 if mode == "L" else (255, 255, 255)


def _pixels(area: Rect, px_per_mm: float) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of an area of the picture in a small picture of it."""
    sides = (area.left, area.top, area.right, area.bottom)
    left, top, right, bottom = (round(side * px_per_mm) for side in sides)
    return left, top, right, bottom


def draw_protected_ground(canvas: PdfCanvas, placement: MapPlacement) -> None:
    """Under lines alone, the same ground."""
    for area in placement.pack.plan.protected_mm:
        canvas.rect(placement.area(area), fill=PROTECTED)
