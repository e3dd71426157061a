"""The key of a picture in values: each tone with its number and its share.

Numbers run from 1, the darkest, to the paper's own. A person who mixes five tones on a
palette, or lays out five pencils, keeps this strip beside them.
"""

from __future__ import annotations

from worker.pages.pack_content import PackContent, Tones
from worker.pdf.canvas import LineStyle, PdfCanvas
from worker.pdf.palette import (
    BLACK,
    HAIR_MM,
    PAPER,
    SMALLEST_PT,
    Ink,
    body,
    kicker,
    strong,
)
from worker.spec.plan import Rect
from worker.units import pt_to_mm
from worker.words.catalogue import Words

#: A number stands light on a darker grey than this, and dark on a lighter one.
_MIDDLE = 128
_STRIP_MM = 14.0
_SWATCH_MM = (15.0, 6.5)
#: The key in a sheet's head strip: side of a swatch, and its height with its number.
SMALL_SIDE_MM = 4.4
_SMALL_HIGH_MM = 4.2


def key_height(pack: PackContent) -> float:
    """What the key takes of the map page; nothing where there are no tones."""
    return _STRIP_MM * pack.scale if pack.aids.tones else 0.0


def draw_key(canvas: PdfCanvas, pack: PackContent, room: Rect) -> None:
    """Swatches in a row, with numbers on them and shares below."""
    tones = pack.aids.tones
    if tones is None:
        return
    k, y, words = pack.scale, room.top, pack.words
    small = body(pack.type_pt(7))
    title = kicker(small.size_pt, BLACK)
    texts = (words("tones.darkest"), words("tones.paper", number=len(tones.greys)))
    wide = canvas.text((room.left, y + 2.2 * k), words("tones.kicker"), title)
    for number, text in enumerate(texts, start=1):
        wide = max(wide, canvas.text((room.left, y + (2.2 + 3.4 * number) * k), text, small))
    start = room.left + wide + 3 * k
    wide = min(_SWATCH_MM[0] * k, (room.right - start) / len(tones.greys))
    for number, (grey, share) in enumerate(zip(tones.greys, tones.shares, strict=True)):
        swatch = Rect(start + number * wide, y, wide, _SWATCH_MM[1] * k)
        _swatch(canvas, swatch, grey, str(number + 1), pack.type_pt(8))
        under = (swatch.left + wide / 2, swatch.bottom + 3 * k)
        canvas.text(under, percent(words, share), body(pack.type_pt(7)), align="centre")


def small_key_width(tones: Tones) -> float:
    """How wide the key in a head strip is."""
    return SMALL_SIDE_MM * len(tones.greys)


def draw_small_key(canvas: PdfCanvas, tones: Tones, left: float, top: float) -> None:
    """Swatches with their numbers alone."""
    for number, grey in enumerate(tones.greys):
        swatch = Rect(left + number * SMALL_SIDE_MM, top, SMALL_SIDE_MM, _SMALL_HIGH_MM)
        _swatch(canvas, swatch, grey, str(number + 1), SMALLEST_PT)


def percent(words: Words, share: float) -> str:
    """A share in whole percent, or `< 1 %` where it is less than half a percent."""
    if 0 < share < 0.005:  # noqa: PLR2004 - half a percent.
        return f"< {words('pack.percent', number=1)}"
    return words("pack.percent", number=words.number(share * 100))


def _swatch(canvas: PdfCanvas, area: Rect, grey: int, says: str, size_pt: float) -> None:
    tone = grey / 255
    rim = LineStyle(ink=BLACK, width_mm=HAIR_MM)
    canvas.rect(area, fill=Ink(tone, tone, tone), stroke=rim)
    style = strong(size_pt, PAPER if grey < _MIDDLE else BLACK)
    middle = area.left + area.width / 2, area.top + area.height / 2 + pt_to_mm(size_pt) * 0.36
    canvas.text(middle, says, style, align="centre")
