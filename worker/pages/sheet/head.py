"""The head strip of a sheet page: which piece it is, what surrounds it, what it measures."""

from __future__ import annotations

from worker.pages.lengths import measures_for
from worker.pages.page_frame import Frame
from worker.pages.sheet.marks import compass, key_plan, up_arrow
from worker.pages.tone_key import draw_small_key, small_key_width
from worker.pdf.palette import PENCIL, SMALLEST_PT, body, strong
from worker.pdf.pen import Pen
from worker.spec.plan import Rect

#: A page narrower than this leaves the key plan out.
_ROOM_FOR_KEY_PLAN_MM = 150.0
#: And narrower than this, the lengths of the piece.
_ROOM_FOR_LENGTHS_MM = 120.0
#: What title and number keep beside the key of the tones.
_ROOM_FOR_PACK_MM = 30.0
_GAP_MM = 3.5
_CORRECTION_SEEN = 5e-5


def draw_head(pen: Pen, frame: Frame) -> None:
    """From left to right: label, top, key plan, neighbours, lengths, pack."""
    strip = frame.head
    label = strong(22)
    x = strip.left + 2.0
    x += pen.text((x, strip.bottom - 2.3), frame.piece.label, label) + _GAP_MM
    up_arrow(pen, Rect(x, strip.top + 1.0, 6.0, 7.8), turned=frame.turned)
    x += 6.0 + _GAP_MM
    if frame.alone():
        x += (
            pen.text((x, strip.top + 5.6), "The whole picture is on this sheet.", body(7)) + _GAP_MM
        )
    else:
        x = _neighbours(pen, frame, x)
    right = strip.right - 2.0
    if strip.width >= _ROOM_FOR_LENGTHS_MM:
        x = _lengths(pen, frame, x)
    x = _tones(pen, frame, x, right)
    _pack(pen, frame, right, right - x)


def _neighbours(pen: Pen, frame: Frame, x: float) -> float:
    strip = frame.head
    if strip.width >= _ROOM_FOR_KEY_PLAN_MM:
        key_plan(pen, Rect(x, strip.top + 0.8, 14.0, 8.0), frame)
        x += 14.0 + _GAP_MM
    return x + compass(pen, x, strip.top + 0.5, frame) + _GAP_MM


def _lengths(pen: Pen, frame: Frame, x: float) -> float:
    """What the trimmed piece measures, across and down this page."""
    say = measures_for(frame.job.spec.sheet.format)
    top = frame.head.top
    rows = (("across", frame.length_mm("across")), ("down", frame.length_mm("down")))
    wide = pen.text((x, top + 2.6), _caption(frame), body(SMALLEST_PT, PENCIL)) - 9.5
    for row, (way, length) in enumerate(rows):
        y = top + 5.6 + row * 2.9
        pen.text((x, y), way, body(SMALLEST_PT, PENCIL))
        wide = max(wide, pen.text((x + 9.5, y), say.length(length), strong(SMALLEST_PT)))
    return x + 9.5 + wide + _GAP_MM


def _tones(pen: Pen, frame: Frame, x: float, right: float) -> float:
    """The key of the tones, where the pack's words leave room for it."""
    tones = frame.job.aids.tones
    if tones is None or right - x - small_key_width(tones) - _GAP_MM < _ROOM_FOR_PACK_MM:
        return x
    pen.text((x, frame.head.top + 2.6), "tones", body(SMALLEST_PT, PENCIL))
    draw_small_key(pen, tones, x, frame.head.top + 3.9)
    return x + small_key_width(tones) + _GAP_MM


def _pack(pen: Pen, frame: Frame, right: float, room: float) -> None:
    """Title, number, page: at the right end of the head strip."""
    text, top = frame.job.text, frame.head.top
    title, small = strong(7.4), body(SMALLEST_PT, PENCIL)
    pen.text((right, top + 2.9), pen.fit(text.title, title, room), title, align="right")
    printer = frame.job.spec.print.printer
    number = f"pack {text.number}" + (f", for {printer}" if printer else "")
    pen.text((right, top + 5.9), pen.fit(number, small, room), small, align="right")
    page = f"page {frame.piece.page} of {frame.job.pages}"
    pen.text((right, top + 8.7), pen.fit(page, small, room), small, align="right")


def _caption(frame: Frame) -> str:
    """Over the lengths: what they are, or which printer's correction the page carries."""
    print_ = frame.job.spec.print
    across, down = print_.across_correction, print_.down_correction
    if max(abs(across - 1), abs(down - 1)) > _CORRECTION_SEEN:
        return f"corrected × {across:.4f}, × {down:.4f}"
    return "cut to cut"
