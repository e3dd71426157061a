"""Thin lines print as lines on any printer: black, and no thinner than a laser draws whole.

A laser printer makes dots of grey, 4 to 6 of its pixels apart: a thin grey line breaks up, and so
does the end of a bar that is measured.
"""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pikepdf

from worker.pages.calibration.page import write_test_page
from worker.pages.class_papers.cover import write_cover
from worker.pages.class_papers.recipient import Recipient
from worker.pages.class_papers.separator import write_separator
from worker.pages.pack_content import PackContent
from worker.spec.formats import SHEET_FORMATS
from worker.spec.spec import Grid, Seams, Spec, Support
from worker.spec.strokes import PEN_WIDTHS_MM

MM_PER_PT = 25.4 / 72
#: Lines up to this width are thin: two or three dots of a screen.
THIN_MM = 0.3
LEAST_MM = 0.18


def thin_lines(path: Path, page: int) -> Iterator[tuple[float, tuple[float, ...]]]:
    """Width in millimetres and ink of each thin line of a page, stroked or a filled block."""
    fill: tuple[float, ...] = (0.0,)
    stroke: tuple[float, ...] = (0.0,)
    width, blocks = 1.0, []
    with pikepdf.open(path) as pdf:
        for step in pikepdf.parse_content_stream(pdf.pages[page - 1]):
            name = str(step.operator)
            numbers = [float(one) for one in step.operands] if name in _NUMBERED else []
            if name in {"g", "rg"}:
                fill = tuple(numbers)
            elif name in {"G", "RG"}:
                stroke = tuple(numbers)
            elif name == "w":
                width = numbers[0] * MM_PER_PT
            elif name == "re":
                blocks.append(min(numbers[2:]) * MM_PER_PT)
            elif name in {"S", "s", "B", "b"}:
                blocks.clear()
                yield width, stroke
            elif name in {"f", "f*"}:
                yield from ((block, fill) for block in blocks)
                blocks.clear()
            elif name in {"n", "W"}:
                blocks.clear()


_NUMBERED = {"g", "rg", "G", "RG", "w", "re"}


def held_to_black(path: Path, pages: range, *, samples: frozenset[float] = frozenset()) -> int:
    """Check every thin line of some pages; returns how many there are.

    `samples` are widths that are printed to be looked at.
    """
    count = 0
    for page in pages:
        for width, ink in thin_lines(path, page):
            if 0 < width <= THIN_MM and min(ink) < 1:
                assert max(ink) == 0, (page, width, ink)
                assert width >= LEAST_MM - 0.001 or round(width, 2) in samples, (page, width)
                count += 1
    return count


def test_thin_lines_of_a_pack_are_black(make: Callable[..., Any]) -> None:
    spec = Spec(
        support=Support(width_mm=400, height_mm=400, border_mm=10),
        seams=Seams(joint="lap", lap_mm=8),
        grid=Grid(square_mm=50),
    )
    made = make(spec, small=True)
    assert held_to_black(made.path, range(1, 1 + made.plan.page_count)) > 200


def test_thin_lines_of_a_test_page_are_black(tmp_path: Path) -> None:
    path = tmp_path / "test.pdf"
    write_test_page(path, SHEET_FORMATS["iso_a4_210x297mm"])
    assert held_to_black(path, range(1, 2), samples=frozenset(PEN_WIDTHS_MM)) > 50


def test_thin_lines_of_a_classs_papers_are_black(
    pack: Callable[..., PackContent], tmp_path: Path
) -> None:
    content = pack(Spec(support=Support(width_mm=400, height_mm=300, border_mm=10)))
    student = Recipient(name="Ada", group="Drawing", of=2)
    cover, separator = tmp_path / "cover.pdf", tmp_path / "separator.pdf"
    write_cover(cover, pack=content, recipient=student, faint=None)
    write_separator(separator, pack=content, recipient=student)
    assert held_to_black(cover, range(1, 2)) >= 2
    assert held_to_black(separator, range(1, 2)) > 0
