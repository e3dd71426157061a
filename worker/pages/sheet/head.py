"""The head strip of a sheet page: which piece it is, what surrounds it, what it measures."""

from __future__ import annotations

from worker.pages.pack_content import SheetPage
from worker.pages.sheet.marks import compass, key_plan, up_arrow
from worker.pages.tone_key import draw_small_key, small_key_width
from worker.pdf.canvas import PdfCanvas
from worker.pdf.palette import SMALLEST_PT, body, strong
from worker.spec.plan import Rect

#: A page narrower than this leaves the key plan out.
_ROOM_FOR_KEY_PLAN_MM = 150.0
#: And narrower than this, the lengths of the piece.
_ROOM_FOR_LENGTHS_MM = 120.0
#: What title and number keep beside the key of the tones.
_ROOM_FOR_PACK_MM = 30.0
_GAP_MM = 3.5
_CORRECTION_SEEN = 5e-5
_SMALL = body(SMALLEST_PT)
_NOTE = strong(SMALLEST_PT)


def draw_head(canvas: PdfCanvas, page: SheetPage, *, tells_marks: bool) -> None:
    """From left to right: label, top, key plan, neighbours, lengths, pack.

    One sheet alone needs no label, and of a picture in values its key is more than a sentence.
    `tells_marks`: it also says what the register marks are.
    """
    strip = page.head
    x = strip.left + 2.0
    if not page.alone():
        x += canvas.text((x, strip.bottom - 2.3), page.piece.label, strong(22)) + _GAP_MM
    up_arrow(canvas, Rect(x, strip.top + 1.0, 6.0, 7.8), page)
    x += 6.0 + _GAP_MM
    if not page.alone():
        x = _neighbours(canvas, page, x)
    elif page.pack.aids.tones is None:
        whole = page.pack.words("sheet.whole-picture")
        x += canvas.text((x, strip.top + 5.6), whole, body(7)) + _GAP_MM
    right = strip.right - 2.0
    if strip.width >= _ROOM_FOR_LENGTHS_MM:
        x = _lengths(canvas, page, x)
    if page.piece.label in page.pack.aids.blank:
        x = _blank(canvas, page, x)
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
    say, words, top = page.pack.say, page.pack.words, page.head.top
    small, bold = body(SMALLEST_PT), strong(SMALLEST_PT)
    rows = (
        (words("sheet.across"), page.length_mm("across")),
        (words("sheet.down"), page.length_mm("down")),
    )
    column = max(canvas.width(way, small) for way, _ in rows) + 1.6
    wide = canvas.text((x, top + 2.6), _caption(page), small) - column
    for row, (way, length) in enumerate(rows):
        y = top + 5.6 + row * 2.9
        canvas.text((x, y), way, small)
        wide = max(wide, canvas.text((x + column, y), say.length(length), bold))
    return x + column + wide + _GAP_MM


def _blank(canvas: PdfCanvas, page: SheetPage, x: float) -> float:
    """That there is nothing to trace, on two lines of about one length."""
    words, style = page.pack.words("blank.here").split(" "), strong(SMALLEST_PT)
    breaks = [
        (" ".join(words[:place]), " ".join(words[place:])) for place in range(1, len(words) + 1)
    ]
    first, second = min(breaks, key=lambda two: max(canvas.width(line, style) for line in two))
    wide = canvas.text((x, page.head.top + 4.2), first, style)
    return x + max(wide, canvas.text((x, page.head.top + 7.1), second, style)) + _GAP_MM


def _tones(canvas: PdfCanvas, page: SheetPage, x: float, right: float) -> float:
    """The key of the tones, where the pack's words leave room for it."""
    tones = page.pack.aids.tones
    if tones is None or right - x - small_key_width(tones) - _GAP_MM < _ROOM_FOR_PACK_MM:
        return x
    canvas.text((x, page.head.top + 2.6), page.pack.words("sheet.tones"), body(SMALLEST_PT))
    draw_small_key(canvas, tones, x, page.head.top + 3.9)
    return x + small_key_width(tones) + _GAP_MM


def _pack(canvas: PdfCanvas, page: SheetPage, right: float, room: float) -> None:
    """The student's name and the title, number, page: at the right end of the head strip.

    The name comes first, so that a long title is cut before it.
    """
    text, top = page.pack.text, page.head.top
    title, says = strong(7.4), " · ".join(filter(None, (text.recipient, text.title)))
    canvas.text((right, top + 2.9), canvas.fit(says, title, room), title, align="right")
    for baseline, says in _rows(canvas, page, room):
        canvas.text((right, top + baseline), canvas.fit(says, _SMALL, room), _SMALL, align="right")


def _rows(canvas: PdfCanvas, page: SheetPage, room: float) -> tuple[tuple[float, str], ...]:
    """What stands below the title, with its baseline.

    The printer's name is left out rather than the pack's number cut: by that a sheet is told
    from those of another pack.
    """
    printer = page.pack.spec.print.printer
    words = page.pack.words
    number = words("sheet.pack", number=page.pack.text.number)
    if printer:
        both = words("sheet.pack-for", number=page.pack.text.number, printer=printer)
        number = both if canvas.width(both, _SMALL) <= room else number
    paging = words("sheet.page", page=page.piece.page, pages=page.pack.pages)
    return (5.9, number), (8.7, paging)


def _notes(canvas: PdfCanvas, page: SheetPage, room: Rect, *, tells_marks: bool) -> None:
    """What is not cut and what is not traced, before those rows, each where there is room."""
    wanted = [flap_notes(page)] if page.piece.flap else []
    wanted += [mark_notes(page)] if tells_marks else []
    free = [
        (baseline, room.width - canvas.width(says, _SMALL) - _GAP_MM)
        for baseline, says in reversed(_rows(canvas, page, room.width))
    ]
    for notes in wanted:
        fitting = (
            (row, note) for note in notes for row in free if canvas.width(note, _NOTE) <= row[1]
        )
        row, note = next(fitting, ((0.0, 0.0), ""))
        if note:
            canvas.text((room.left, room.top + row[0]), note, _NOTE)
            free.remove(row)


def flap_notes(page: SheetPage) -> tuple[str, ...]:
    """What the edge is that is not cut, from the fullest wording to the shortest."""
    words = page.pack.words
    if page.piece.flap == "top":
        return words("sheet.flap"), words("sheet.flap-shorter")
    return words("sheet.flap-right"), words("sheet.flap-right-shorter")


def mark_notes(page: SheetPage) -> tuple[str, ...]:
    """What the register marks are, from the fullest wording to the shortest; none without any."""
    words = page.pack.words
    if not page.marked:
        return ()
    return (
        words("sheet.marks"),
        words("sheet.marks-shorter"),
        words("sheet.marks-shortest"),
        words("sheet.marks-least"),
    )


def _caption(page: SheetPage) -> str:
    """Over the lengths: what they are, or which printer's correction the page carries."""
    words, print_ = page.pack.words, page.pack.spec.print
    across, down = print_.across_correction, print_.down_correction
    if max(abs(across - 1), abs(down - 1)) > _CORRECTION_SEEN:
        factors = words.number(across, 4), words.number(down, 4)
        return words("sheet.corrected", across=factors[0], down=factors[1])
    return words("sheet.cut-to-cut")
