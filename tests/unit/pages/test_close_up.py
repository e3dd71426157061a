"""What is seen of pieces in a part of the picture; what is drawn, tests of the close-up show."""

from __future__ import annotations

import io

import pikepdf
import pytest

from tests.unit.pages.conftest import plan_for
from worker.pages.close_up import seen_of, write_over
from worker.pages.pack_content import PackContent, PackText
from worker.spec.plan import Rect, Size
from worker.spec.spec import Grid, Seams, Spec, Support

SPEC = Spec(
    support=Support(width_mm=600, height_mm=400),
    seams=Seams(joint="lap", lap_mm=10, placement="even"),
    grid=Grid(square_mm=40),
)


@pytest.mark.parametrize("part", [Rect(0, 0, 300, 300), Rect(150, 150, 120, 90), Rect(5, 5, 9, 9)])
def test_what_is_seen_covers_a_part_once(part: Rect) -> None:
    seen = [each for piece in plan_for(SPEC).pieces if (each := seen_of(piece, part))]
    assert sum(each.width * each.height for each in seen) == pytest.approx(part.width * part.height)
    for each in seen:
        assert part.left <= each.left < each.right <= part.right + 1e-9
        assert part.top <= each.top < each.bottom <= part.bottom + 1e-9


def test_the_page_is_as_large_as_the_part_and_holds_no_picture() -> None:
    plan = plan_for(SPEC)
    pack = PackContent(spec=SPEC, plan=plan, text=PackText(title="", number=""))
    pdf = write_over(pack, Rect(100, 100, 80, 60), Size(80, 60), plan.pieces)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        (page,) = document.pages
        sides = [float(each) / 72 * 25.4 for each in page.MediaBox]
        assert sides == pytest.approx([0, 0, 80, 60], abs=0.001)
        assert not page.get_images()
        assert b" re W n" in page.Contents.read_bytes()
