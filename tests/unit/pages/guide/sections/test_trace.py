"""What the guide says about tracing."""

from collections.abc import Callable
from dataclasses import replace

from worker.spec.spec import Spec, Support, Tone

SIX = Spec(support=Support(width_mm=600, height_mm=400))

Said = Callable[[Spec], str]


def test_strips_run_from_the_free_edge_to_the_hinge(said: Said) -> None:
    text = said(SIX)
    assert "from the bottom edge to the hinge: row 2 first, row 1 last" in text
    assert "never drag it" in text
    one = said(Spec(support=Support(width_mm=500, height_mm=180)))
    assert "Work from the bottom edge to the hinge." in one
    assert "row 1 last" not in one


def test_a_coloured_pen_a_bar_and_a_look_come_in_their_order(said: Said) -> None:
    text = said(SIX)
    order = ("coloured ballpoint", "Rest your hand on a bar", "Look at the first strip")
    places = [text.index(phrase) for phrase in (*order, "Only then take off the hinge")]
    assert places == sorted(places)


def test_each_style_says_what_is_traced(said: Said) -> None:
    assert "Trace the edges of shapes" in said(SIX)
    assert "Heavy lines are the large shapes" in said(replace(SIX, tone=Tone(style="outline")))
    assert "do not trace it" in said(replace(SIX, tone=Tone(style="mixed")))
    assert "Trace the borders between the tones" in said(replace(SIX, tone=Tone(style="values")))
