"""The guide fills its two pages, and can be read."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.folded import fold
from worker.pages.guide.fitting import GuidePage, guide_pages
from worker.pages.pack_content import PackContent
from worker.spec.formats import SHEET_FORMATS
from worker.spec.spec import Grid, Print, Seams, Sheet, Spec, Support, Tone

SIX = Spec(support=Support(width_mm=600, height_mm=400))
PACKS = {
    "grey": SIX,
    "lapped lines": replace(SIX, tone=Tone(style="outline"), seams=Seams(joint="lap", lap_mm=10)),
    "mirrored": replace(SIX, print=Print(mirror=True)),
    "mural": Spec(support=Support(width_mm=3000, height_mm=2000, medium="paint")),
    "pastel on dark": Spec(
        support=Support(width_mm=500, height_mm=700, tone="dark", medium="pastel")
    ),
    "values": replace(SIX, tone=Tone(style="values")),
    "grid": replace(SIX, grid=Grid(square_mm=50, diagonals=True)),
    "letter": Spec(
        support=Support(width_mm=558.8, height_mm=762), sheet=Sheet(format="na_letter_8.5x11in")
    ),
}


def used(page: GuidePage) -> float:
    """The share of the page down to the end of the last step."""
    steps = sum(len(section.steps) for section in page.sections)
    left = page.spare - page.spread * len(page.sections) - page.loose * steps
    return 1 - left / page.area.height


@fold(
    ("name", SHEET_FORMATS),
    ("size", [(180, 130), (600, 400), (1200, 800)]),
    ("joint", ["butt", "lap"]),
)
def test_guide_takes_its_pages_on_every_sheet_and_can_be_read(
    pack: Callable[..., PackContent], name: str, size: tuple[int, int], joint: str
) -> None:
    seams = Seams(joint=joint, lap_mm=8 if joint == "lap" else 0)
    support = Support(width_mm=size[0], height_mm=size[1], border_mm=12)
    content = pack(Spec(support=support, seams=seams, sheet=Sheet(format=name)))
    pages = guide_pages(content)
    assert len(pages) == len(content.plan.guide_pages)
    for page in pages:
        assert page.spare >= 0
        assert page.size_pt >= 7.0


@pytest.mark.parametrize("spec", PACKS.values(), ids=PACKS)
def test_both_pages_are_full_and_look_alike(pack: Callable[..., PackContent], spec: Spec) -> None:
    first, second = guide_pages(pack(spec))
    assert min(used(first), used(second)) >= 0.9
    # Nine points are read at arm's length, where a guide lies (common practice).
    assert min(first.size_pt, second.size_pt) >= 8.5
    assert max(first.size_pt, second.size_pt) <= 1.16 * min(first.size_pt, second.size_pt)
