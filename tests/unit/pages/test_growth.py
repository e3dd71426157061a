"""Texts that are a third longer than in English still fit, on every kind of page.

A language that is none, made of the English catalogue: letters with accents, words longer by
35 %, which is what translators reckon with for short texts (common practice). Nothing is drawn:
the canvas notes where texts stand and how wide they are.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest

from tests.folded import fold
from worker.pages.calibration.layout import CalibrationLayout
from worker.pages.calibration.page import draw_test_page
from worker.pages.class_papers.cover import draw_cover
from worker.pages.class_papers.recipient import Recipient
from worker.pages.class_papers.separator import draw_separator
from worker.pages.grid.page import draw_grid_pages
from worker.pages.guide.page import draw_guide
from worker.pages.map.page import draw_map
from worker.pages.pack_content import Aids, PackContent, SheetPage, Tones
from worker.pages.sheet.page import PrintedPiece, draw_sheet
from worker.pdf.canvas import PdfCanvas, Point
from worker.pdf.palette import TextStyle
from worker.pdf.text import clean
from worker.pdf.writer import PdfWriter
from worker.spec.formats import SHEET_FORMATS
from worker.spec.plan import Rect, Size
from worker.spec.spec import Area, Grid, Margins, Print, Seams, Sheet, Spec, Support, Tone
from worker.units import pt_to_mm
from worker.words import catalogue as catalogues

GROWTH = 0.35
#: Any language that Unicode CLDR knows: its texts are replaced, its decimal comma stays.
PSEUDO = "de"
ACCENTS = str.maketrans("aceinouyACEINOUY", "àçéîñôûÿÀÇÉÎÑÔÛŸ")
#: Letters fill so much of their size above the baseline, and some of them below it.
ABOVE, BELOW, DESCENDING = 0.72, 0.2, frozenset("gjpqyçQ,;()/")
#: Boxes may share a hair.
TOUCH_MM = 0.15


def grown(text: str) -> str:
    """The text with accents, every word of letters longer; places and marks stay."""

    def longer(found: re.Match[str]) -> str:
        word = found[0]
        if word.startswith("{") or word.lower() == "mm":
            return word
        more = round(len(word) * GROWTH)
        return (word + ("e" * more if word.islower() else "E" * more)).translate(ACCENTS)

    return re.sub(r"\{\w+\}|[^\W\d_]+", longer, text)


def grown_all(texts: Any) -> Any:
    if isinstance(texts, dict):
        return {name: grown_all(below) for name, below in texts.items()}
    return grown(texts)


@pytest.fixture(scope="module", autouse=True)
def _pseudo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The language that is none, in place of another."""
    folder = tmp_path_factory.mktemp("words")
    for path in (catalogues.FOLDER / "en").glob("*.json"):
        texts = json.loads(path.read_text(encoding="utf-8"))
        for language, changed in (("en", texts), (PSEUDO, grown_all(texts))):
            (folder / language).mkdir(exist_ok=True)
            (folder / language / path.name).write_text(json.dumps(changed), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(catalogues, "FOLDER", folder)
        catalogues.words_for.cache_clear()
        yield
    catalogues.words_for.cache_clear()


@dataclass(frozen=True)
class Placed:
    """A text on the page, as the rectangle of its letters."""

    text: str
    box: Rect


class NotingCanvas(PdfCanvas):
    """Notes the texts of the page, and those that had to be cut."""

    def begin(self) -> None:
        self.placed: list[Placed] = []
        self.cut: list[str] = []
        self.turned_mm = 0.0

    def fit(self, text: str, style: TextStyle, room_mm: float) -> str:
        fitted = super().fit(text, style, room_mm)
        if fitted != clean(text):
            self.cut.append(text)
        return fitted

    def text(self, at: Point, text: str, style: TextStyle, **how: Any) -> float:
        wide = super().text(at, text, style, **how)
        if text.strip():
            before = {"left": 0.0, "centre": 0.5, "right": 1.0}[how.get("align", "left")] * wide
            below = BELOW if DESCENDING & set(text) else 0.0
            up, down = (pt_to_mm(style.size_pt) * share for share in (ABOVE, below))
            x, y = at
            if how.get("turn_deg"):
                box = Rect(x - up, y - wide + before, up + down, wide)
            else:
                box = Rect(x - before, y - up, wide, up + down)
            self.placed.append(Placed(text, self._on_page(box)))
        return wide

    @contextmanager
    def sideways(self, width_mm: float) -> Iterator[None]:
        self.turned_mm = width_mm
        with super().sideways(width_mm):
            yield
        self.turned_mm = 0.0

    def _on_page(self, box: Rect) -> Rect:
        """Turned with the page, where that is drawn sideways."""
        if not self.turned_mm:
            return box
        return Rect(self.turned_mm - box.bottom, box.left, box.height, box.width)


def overlap(one: Rect, other: Rect) -> bool:
    across = min(one.right, other.right) - max(one.left, other.left)
    down = min(one.bottom, other.bottom) - max(one.top, other.top)
    return across > TOUCH_MM and down > TOUCH_MM


def faults(canvas: NotingCanvas, room: Rect, *, keep_off: Rect | None = None) -> list[str]:
    """What is wrong with the texts of a page."""
    found = [f"cut: {text}" for text in canvas.cut]
    for one in canvas.placed:
        box = one.box
        inside = box.left >= room.left - TOUCH_MM and box.right <= room.right + TOUCH_MM
        if not inside or box.top < room.top - TOUCH_MM or box.bottom > room.bottom + TOUCH_MM:
            found.append(f"outside: {one.text}")
        if keep_off is not None and overlap(box, keep_off):
            found.append(f"on the picture: {one.text}")
    for one, other in combinations(canvas.placed, 2):
        if overlap(one.box, other.box):
            found.append(f"over each other: {one.text} / {other.text}")
    return found


SAFE = Margins(top=10, right=10, bottom=18, left=10)
PROTECT = (Area(left=0.4, top=0.2, width=0.1, height=0.1),)
SPECS = {
    "six": Spec(support=Support(width_mm=600, height_mm=400, border_mm=12)),
    "one": Spec(support=Support(width_mm=100, height_mm=90, border_mm=10)),
    "lapped": Spec(
        support=Support(width_mm=700, height_mm=500, border_mm=12),
        seams=Seams(joint="lap", lap_mm=8, protect=PROTECT, arrangement="staggered"),
        print=Print(mirror=True),
    ),
    "corrected": Spec(
        support=Support(width_mm=600, height_mm=400, tone="dark"),
        sheet=Sheet(margin_mm=SAFE),
        print=Print(across_correction=1.0123, down_correction=0.9911, printer="Laser"),
    ),
    "grid": Spec(
        support=Support(width_mm=615, height_mm=405),
        tone=Tone(style="values"),
        grid=Grid(square_mm=50, diagonals=True),
        print=Print(mirror=True),
    ),
}
A4, A5, A3 = "iso_a4_210x297mm", "iso_a5_148x210mm", "iso_a3_297x420mm"
LETTER = "na_letter_8.5x11in"
#: Each kind on the usual sheet, and on one that is narrow, large, or measured in inches.
PAIRS = [
    ("six", A4),
    ("six", A5),
    ("one", A4),
    ("one", A3),
    ("lapped", A5),
    ("lapped", LETTER),
    ("corrected", A4),
    ("corrected", LETTER),
    ("corrected", A5),
    ("grid", A4),
    ("grid", A5),
]
TONES = Tones(greys=(20, 80, 140, 200, 255), shares=(0.2, 0.2, 0.2, 0.2, 0.2))


@pytest.fixture
def drawn(tmp_path: Path) -> Callable[..., NotingCanvas]:
    """One page, drawn to be measured."""

    def draw(size: Size, page: Callable[[PdfCanvas], object]) -> NotingCanvas:
        with PdfWriter(tmp_path / "page.pdf", size, title="Measured") as pdf:
            canvas = NotingCanvas(pdf)
            canvas.begin()
            page(canvas)
        return canvas

    return draw


@fold(("kind, name", PAIRS))
def test_packs_have_room_for_longer_words(
    pack: Callable[..., PackContent], drawn: Callable[..., NotingCanvas], kind: str, name: str
) -> None:
    spec = replace(SPECS[kind], language=PSEUDO)
    spec = replace(spec, sheet=replace(spec.sheet, format=name))
    content = pack(spec)
    content = replace(content, text=replace(content.text, title="Pear"))
    if spec.tone.style == "values":
        content = replace(content, aids=Aids(tones=TONES))
    sheet, room = content.plan.sheet, content.printable
    recipient = Recipient(name="Ada", group="Class", place=3, of=30, note="Bring pencils.")
    pages: dict[str, Callable[[PdfCanvas], object]] = {
        "map": lambda canvas: draw_map(canvas, content, None),
        "cover": lambda canvas: draw_cover(canvas, content, recipient, None),
        "separator": lambda canvas: draw_separator(canvas, content, recipient),
        **{f"guide {i}": page for i, page in enumerate(draw_guide(content))},
        **{f"grid {i}": page for i, page in enumerate(draw_grid_pages(content, None))},
    }
    found = {
        page: wrong for page, draw in pages.items() if (wrong := faults(drawn(sheet, draw), room))
    }
    for piece in content.plan.pieces:
        page = SheetPage(pack=content, piece=piece)
        canvas = drawn(
            sheet, lambda canvas, page=page: draw_sheet(canvas, page, PrintedPiece(page.piece))
        )
        laps = [one for one in canvas.placed if one.text.startswith(grown("lap"))]
        canvas.placed = [one for one in canvas.placed if one not in laps]
        if wrong := faults(canvas, room, keep_off=page.cut):
            found[piece.label] = wrong
    assert found == {}


@fold(("name", SHEET_FORMATS))
def test_test_pages_have_room_for_longer_words(
    drawn: Callable[..., NotingCanvas], name: str
) -> None:
    layout = CalibrationLayout(sheet=SHEET_FORMATS[name], language=PSEUDO)
    size = Size(layout.sheet.width_mm, layout.sheet.height_mm)
    canvas = drawn(size, lambda canvas: draw_test_page(canvas, layout))
    assert faults(canvas, Rect(0, 0, size.width_mm, size.height_mm)) == []


def test_the_language_that_is_none_is_longer() -> None:
    """So that the tests above prove something."""
    english, pseudo = (
        catalogues.catalogue(catalogues.FOLDER / language) for language in ("en", PSEUDO)
    )
    lengths = [sum(len(str(text)) for text in texts.values()) for texts in (english, pseudo)]
    # Places, marks and blanks do not grow.
    assert lengths[1] > lengths[0] * 1.2
    assert grown("page {page} of {pages}, mm") == "pàgéé {page} ôfé {pages}, mm"
