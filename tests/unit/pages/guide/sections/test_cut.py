"""What the guide says about cutting."""

from collections.abc import Callable
from dataclasses import replace

from worker.pages.guide.sections.cut import cutting
from worker.pages.pack_content import PackContent, SheetPage
from worker.spec.spec import Seams, Spec, Support

SIX = Spec(support=Support(width_mm=600, height_mm=400))


def said(content: PackContent) -> str:
    return "\n".join(step.text for step in cutting(content).steps).replace("**", "")


def test_every_stack_has_its_settings(pack: Callable[..., PackContent]) -> None:
    six = pack(SIX)
    text = said(six)
    for stack in six.plan.trim_stacks:
        for edge, margin_mm in stack.margin_mm.items():
            assert f"{edge} {margin_mm:.1f}" in text


def test_sheets_that_are_all_cut_differently_share_left_and_top(
    pack: Callable[..., PackContent],
) -> None:
    two = pack(Spec(support=Support(width_mm=330, height_mm=170)))
    margin = {**two.plan.trim_stacks[0].margin_mm, "top": 15.0}
    stacks = tuple(
        replace(two.plan.trim_stacks[0], labels=(piece.label,), margin_mm=margin)
        for piece in two.plan.pieces
    )
    text = said(replace(two, plan=replace(two.plan, trim_stacks=stacks)))
    assert "all share left 5.0 and top 15.0 from the edges of the page" in text
    assert "Stack I" not in text


def test_sides_without_a_hairline_are_cut_from_tick_to_tick(
    pack: Callable[..., PackContent],
) -> None:
    six = pack(SIX)
    # Every picture begins where the printer's margin ends, so no line can stand at its left.
    assert all(SheetPage(pack=six, piece=piece).room("left") == 0 for piece in six.plan.pieces)
    assert "without a hairline, the left one always, is cut from tick to tick" in said(six)


def test_the_flap_is_left_at_the_top(pack: Callable[..., PackContent]) -> None:
    assert "In row 1, the top of the picture is not cut" in said(pack(SIX))
    one = pack(Spec(support=Support(width_mm=148, height_mm=210)))
    assert "The top of the picture is not cut" in said(one)
    assert "It now measures 148 × 210" in said(one)


def test_laps_are_not_cut_off(pack: Callable[..., PackContent]) -> None:
    lapped = pack(replace(SIX, seams=Seams(joint="lap", lap_mm=8)))
    assert "The other dashed lines are not cut" in said(lapped)


def test_blades_are_told_of_and_the_guide_defers(pack: Callable[..., PackContent]) -> None:
    text = said(pack(SIX))
    for word in ("Blades", "cutting mat", "metal rule", "Children", "Local rules", "trained"):
        assert word in text
