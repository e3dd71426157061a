"""Every page can be read: nothing printed over anything else, off the paper or too small."""

import re
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.folded import fold, spread
from worker.pages.pack_content import PackContent
from worker.spec.formats import SHEET_FORMATS
from worker.spec.spec import Area, Margins, Print, Seams, Sheet, Spec, Support

#: The least that large print guidelines leave to captions, in points (common practice).
LEAST_PT = 7.0
#: How much of a letter's box, above and below, is mostly air: ascent and descent of the face.
AIR = 0.22


@dataclass(frozen=True)
class Word:
    """A word as Poppler finds it, in points from the page's top left."""

    left: float
    top: float
    right: float
    bottom: float
    text: str


_WORD = re.compile(
    r'<word xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">(.*?)</word>'
)


def words(path: Path, page: int) -> list[Word]:
    command = ["pdftotext", "-bbox", "-f", str(page), "-l", str(page), str(path), "-"]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return [Word(*map(float, found[:4]), found[4]) for found in _WORD.findall(told)]


def inked(word: Word) -> Word:
    """The word without the air above and below its letters, also where it runs up the page."""
    wide, high = word.right - word.left, word.bottom - word.top
    across, down = (AIR * wide, 0.0) if len(word.text) > 2 and high > wide else (0.0, AIR * high)
    return Word(
        word.left + across, word.top + down, word.right - across, word.bottom - down, word.text
    )


def over_each_other(found: list[Word]) -> Iterator[tuple[Word, Word]]:
    """Words that share a place; a rim around letters is the same word once more."""
    for one, other in combinations(map(inked, found), 2):
        across = min(one.right, other.right) - max(one.left, other.left)
        down = min(one.bottom, other.bottom) - max(one.top, other.top)
        if across > 0.3 and down > 0.3 and one.text != other.text:
            yield one, other


def smallest_pt(path: Path, page: int) -> float:
    with pikepdf.open(path) as pdf:
        steps = pikepdf.parse_content_stream(pdf.pages[page - 1])
        return min(float(step.operands[1]) for step in steps if str(step.operator) == "Tf")


SAFE = Sheet(margin_mm=Margins(top=10, right=10, bottom=18, left=10))
FULL = Seams(joint="lap", lap_mm=8, protect=(Area(left=0.4, top=0.2, width=0.1, height=0.1),))
SPECS = {
    "one": Spec(support=Support(width_mm=100, height_mm=90, border_mm=10)),
    "lapped": Spec(support=Support(width_mm=700, height_mm=500, border_mm=12), seams=FULL),
    "strip": Spec(support=Support(width_mm=90, height_mm=900, border_mm=5), sheet=SAFE),
    "corrected": Spec(
        support=Support(width_mm=600, height_mm=400),
        sheet=SAFE,
        print=Print(
            mirror=True, across_correction=1.0123, down_correction=0.9911, printer="Studio laser"
        ),
    ),
}


def area_of(name: str) -> float:
    return SHEET_FORMATS[name].width_mm * SHEET_FORMATS[name].height_mm


@fold(("kind", SPECS), ("name", SHEET_FORMATS))
def test_every_kind_of_pack_is_planned_on_every_sheet(
    pack: Callable[..., PackContent], kind: str, name: str
) -> None:
    spec = SPECS[kind]
    plan = pack(replace(spec, sheet=replace(spec.sheet, format=name))).plan
    sheet = SHEET_FORMATS[name]
    assert (plan.sheet.width_mm, plan.sheet.height_mm) == (sheet.width_mm, sheet.height_mm)
    for piece in plan.pieces:
        place = piece.sheet_rect_mm
        assert min(place.left, place.top) >= 0
        assert place.right <= sheet.width_mm
        assert place.bottom <= sheet.height_mm


@pytest.mark.parametrize(("name", "kind"), spread(list(SHEET_FORMATS), list(SPECS), area_of))
def test_words_stand_apart_on_the_paper_and_are_large_enough(
    make: Callable[..., Any], kind: str, name: str
) -> None:
    """Drawn for a dozen: each kind on a small, a middling and a large sheet, each sheet once."""
    spec = SPECS[kind]
    made = make(replace(spec, sheet=replace(spec.sheet, format=name)))
    wide, high = made.plan.sheet.width_mm * 72 / 25.4, made.plan.sheet.height_mm * 72 / 25.4
    first = made.plan.first_sheet_page
    for page in range(1, min(first + 3, made.plan.page_count + 1)):
        found = words(made.path, page)
        assert not list(over_each_other(found)), page
        assert all(word.left >= 0 and word.right <= wide for word in found)
        assert all(word.top >= 0 and word.bottom <= high for word in found)
        # The guide sets its own size, and has a test of its own.
        if page not in made.plan.guide_pages:
            assert smallest_pt(made.path, page) >= LEAST_PT - 0.01
