"""What the guide says about transfer paper. All of it is common practice in studios."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.folded import fold
from worker.spec.spec import Medium, Spec, Support, SupportTone

SIX = Spec(support=Support(width_mm=594, height_mm=420))

Said = Callable[[Spec], str]


@pytest.mark.parametrize(
    ("tone", "paper"),
    [
        ("light", "graphite transfer paper"),
        ("mid", "white or graphite transfer paper"),
        ("dark", "white transfer paper (chalk)"),
    ],
)
def test_transfer_paper_suits_the_support(said: Said, tone: SupportTone, paper: str) -> None:
    text = said(replace(SIX, support=replace(SIX.support, tone=tone)))
    assert f"Take wax-free {paper}" in text
    assert "wax-free" in text
    assert text.index("Wipe a fresh sheet") < text.index("scrap of the same support")
    assert text.index("scrap of the same support") < text.index("Slide it under")


@fold(
    ("medium", ["graphite", "coloured-pencil", "other", "pastel", "paint"]),
    ("tone", ["light", "dark"]),
)
def test_a_light_box_is_for_thin_and_light_paper(said: Said, medium: Medium, tone: str) -> None:
    spec = replace(SIX, support=replace(SIX.support, medium=medium, tone=tone))
    thin = tone == "light" and medium not in {"pastel", "paint"}
    assert ("light box" in said(spec)) is thin


def test_a_light_box_takes_a2(said: Said) -> None:
    assert "light box" in said(SIX)
    assert "light box" not in said(Spec(support=Support(width_mm=700, height_mm=500)))


def test_sanded_paper_gets_chalk_on_the_back_of_the_sheets(said: Said) -> None:
    pastel = replace(SIX, support=replace(SIX.support, medium="pastel"))
    assert "Sanded or velour paper" in said(pastel)
    assert "Sanded" not in said(SIX)
    assert "Rub the back of the sheets with a soft pencil" in said(SIX)
    dark = replace(SIX, support=replace(SIX.support, tone="dark"))
    assert "Rub the back of the sheets with white chalk" in said(dark)
