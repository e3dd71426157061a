"""The head strip of a sheet page: which piece it is, what surrounds it, what it measures."""

from __future__ import annotations

from worker.pages.lengths import measures_for
from worker.pages.pack_content import SheetPage
from worker.pages.sheet.marks import compass, key_plan, up_arrow
from worker.pages.tone_key import draw_small_key, small_key_width
from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import PENCIL, SMALLEST_PT, body, strong
from worker.spec.plan import Edge, Rect

#: A page narrower than this leaves the key plan out.
_ROOM_FOR_KEY_PLAN_MM = 150.0
#: And narrower than this, the lengths of the piece.
_ROOM_FOR_LENGTHS_MM = 120.0
#: What title and number keep beside the key of the tones.
_ROOM_FOR_PACK_MM = 30.0
_GAP_MM = 3.5
_CORRECTION_SEEN = 5e-5
_SMALL = body(SMALLEST_PT, PENCIL)
#: From the fullest wording to the shortest.
_FLAP_NOTES: dict[Edge, tuple[str, ...]] = {
    "top": ("flap: hinge here, do not cut", "flap: do not cut"),
    "right": ("flap at the right: hinge there, do not cut", "flap at the right: do not cut"),
}
MARK_NOTES = (
    "Dashed marks at the edges: for joining, not for tracing.",
    "Dashed marks: for joining, not for tracing.",
    "Dashed marks: do not trace.",
)


def draw_head(canvas: PdfCanvas, page: SheetPage, *, tells_marks: bool) -> None:
    """From left to right: label, top, key plan, neighbours, lengths, pack.

    `tells_marks`: it also says what the register marks are.
    """
    strip = page.head
    label = strong(22)
    x = strip.left + 2.0
    x += canvas.text((x, strip.bottom - 2.3), page.piece.label, label) + _GAP_MM
    up_arrow(canvas, Rect(x, strip.top + 1.0, 6.0, 7.8), turned=page.turned)
    x += 6.0 + _GAP_MM
    if page.alone():
        x += (
            canvas.text((x, strip.top + 5.6), "The whole picture is on this sheet.", body(7))
            + _GAP_MM
        )
    else:
        x = _neighbours(canvas, page, x)
    right = strip.right - 2.0
    if strip.width >= _ROOM_FOR_LENGTHS_MM:
        x = _lengths(canvas, page, x)
    x = _tones(canvas, page, x, right)
    _pack(canvas, page, right, right - x)
    _notes(canvas, page, Rect(x, strip.top, right - x, strip.height), tells_marks=tells_marks)


def _neighbours(canvas: PdfCanvas, page: SheetPage, x: float) -> float:
    strip = page.head
    if strip.width >= _ROOM_FOR_KEY_PLAN_MM:
        key_plan(canvas, Rect(x, strip.top + 0.8, 14.0, 8.0), page)
        x += 14.0 + _GAP_MM
    return x + compass(canvas, x, strip.top + 0.5, page) + _GAP_MM


def _lengths(canvas: PdfCanvas, page: SheetPage, x: float) -> float:
    """What the trimmed piece measures, across and down this page."""
    say = measures_for(page.pack.spec.sheet.format)
    top = page.head.top
    rows = (("across", page.length_mm("across")), ("down", page.length_mm("down")))
    wide = canvas.text((x, top + 2.6), _caption(page), body(SMALLEST_PT, PENCIL)) - 9.5
    for row, (way, length) in enumerate(rows):
        y = top + 5.6 + row * 2.9
        canvas.text((x, y), way, body(SMALLEST_PT, PENCIL))
        wide = max(wide, canvas.text((x + 9.5, y), say.length(length), strong(SMALLEST_PT)))
    return x + 9.5 + wide + _GAP_MM


def _tones(canvas: PdfCanvas, page: SheetPage, x: float, right: float) -> float:
    """The key of the tones, where the pack's words leave room for it."""
    tones = page.pack.aids.tones
    if tones is None or right - x - small_key_width(tones) - _GAP_MM < _ROOM_FOR_PACK_MM:
        return x
    canvas.text((x, page.head.top + 2.6), "tones", body(SMALLEST_PT, PENCIL))
    draw_small_key(canvas, tones, x, page.head.top + 3.9)
    return x + small_key_width(tones) + _GAP_MM


def _pack(canvas: PdfCanvas, page: SheetPage, right: float, room: float) -> None:
    """Title, number, page: at the right end of the head strip."""
    text, top = page.pack.text, page.head.top
    title = strong(7.4)
    canvas.text((right, top + 2.9), canvas.fit(text.title, title, room), title, align="right")
    for baseline, words in _rows(page):
        canvas.text((right, top + baseline), canvas.fit(words, _SMALL, room), _SMALL, align="right")


def _rows(page: SheetPage) -> tuple[tuple[float, str], ...]:
    """What stands below the title, with its baseline."""
    printer = page.pack.spec.print.printer
    number = f"pack {page.pack.text.number}" + (f", for {printer}" if printer else "")
    return (5.9, number), (8.7, f"page {page.piece.page} of {page.pack.pages}")


def _notes(canvas: PdfCanvas, page: SheetPage, room: Rect, *, tells_marks: bool) -> None:
    """What is not cut and what is not traced, before those rows, each where there is room."""
    wanted = [_FLAP_NOTES[page.piece.flap]] if page.piece.flap else []
    wanted += [MARK_NOTES] if tells_marks else []
    free = [
        (baseline, room.width - canvas.width(words, _SMALL) - _GAP_MM)
        for baseline, words in reversed(_rows(page))
    ]
    bold = strong(SMALLEST_PT)
    for (baseline, wide), notes in zip(free, wanted, strict=False):
        note = next((note for note in notes if canvas.width(note, bold) <= wide), "")
        canvas.text((room.left, room.top + baseline), note, bold)


def _caption(page: SheetPage) -> str:
    """Over the lengths: what they are, or which printer's correction the page carries."""
    print_ = page.pack.spec.print
    across, down = print_.across_correction, print_.down_correction
    if max(abs(across - 1), abs(down - 1)) > _CORRECTION_SEEN:
        return f"corrected × {across:.4f}, × {down:.4f}"
    return "cut to cut"
