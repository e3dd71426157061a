"""What the guide says about the first steps after the transfer (common practice in studios)."""

from collections.abc import Callable
from dataclasses import replace

from tests.folded import fold
from worker.spec.spec import Medium, Spec, Support, SupportTone, Tone, Values

SIX = Spec(support=Support(width_mm=600, height_mm=400))

Said = Callable[[Spec], str]


@fold(
    (
        "medium, tone, says",
        [
            ("graphite", "light", "Roll a kneaded eraser over the lines"),
            ("coloured-pencil", "light", "graphite under pale coloured pencil stays"),
            ("pastel", "mid", "before you lay pale pastel"),
            ("paint", "light", "graphite greys pale paint"),
            ("other", "light", "pale colours do not cover them"),
            ("pastel", "dark", "Brush off the lines"),
            ("paint", "dark", "wipe off the chalk"),
        ],
    )
)
def test_the_medium_decides_what_is_done_with_the_lines(
    said: Said, medium: Medium, tone: SupportTone, says: str
) -> None:
    assert says in said(replace(SIX, support=replace(SIX.support, medium=medium, tone=tone)))


def test_values_go_on_with_their_tones(said: Said) -> None:
    four = Tone(style="values", values=Values(count=4))
    light = said(replace(SIX, tone=four))
    assert "Choose or mix the 4 tones and try them beside the key. Lay" in light
    assert "1 is the darkest" in light
    dark = said(replace(SIX, tone=four, support=replace(SIX.support, tone="dark")))
    assert "tone 4 too, which the support does not give" in dark
