"""What the guide says about a mirrored pack."""

from collections.abc import Callable
from dataclasses import replace

from tests.folded import fold
from worker.pages.section import Section
from worker.spec.spec import Print, Spec, Support, Tone, ToneStyle

MIRRORED = Spec(support=Support(width_mm=600, height_mm=400), print=Print(mirror=True))


@fold(("style", ["grey", "outline", "mixed", "values"]))
def test_what_lets_go_is_drawn_before_the_sheets_are_hinged_and_rubbed(
    said: Callable[[Spec], str], style: ToneStyle
) -> None:
    text = said(replace(MIRRORED, tone=Tone(style=style)))
    order = ("On the printed side, go over", "Measure the support", "Rub the back with a hard")
    places = [text.index(phrase) for phrase in order]
    assert places == sorted(places)
    assert "row 2 first, row 1 last" in text


def test_what_is_drawn_shows_on_the_support(said: Callable[[Spec], str]) -> None:
    assert "Use a soft pencil (4B to 8B)." in said(MIRRORED)
    dark = replace(MIRRORED, support=replace(MIRRORED.support, tone="dark"))
    assert "Use white chalk" in said(dark)


def test_that_it_is_mirrored_comes_first(
    sections: Callable[[Spec], dict[str, Section]],
) -> None:
    first = sections(MIRRORED)["Prepare"].steps[0]
    assert "**mirrored**" in first.text
    assert not first.ticked
