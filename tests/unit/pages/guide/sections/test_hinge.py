"""What the guide says about laying the enlargement on the support."""

from collections.abc import Callable
from dataclasses import replace

from worker.spec.spec import Print, Spec, Support

SIX = Spec(support=Support(width_mm=600, height_mm=400))

Said = Callable[[Spec], str]


def test_board_flap_and_marks_come_in_their_order(said: Said) -> None:
    text = said(SIX)
    order = ("hard, smooth board", "Measure the support", "flush with the edges", "Tape the flap")
    places = [text.index(phrase) for phrase in (*order, "two pencil marks across the hinge")]
    assert places == sorted(places)
    assert "a tab at the bottom edge" in text


def test_the_border_is_measured(said: Said) -> None:
    bordered = replace(SIX, support=replace(SIX.support, border_mm=12))
    assert "12.0 mm from every edge" in said(bordered)
    assert "flush" not in said(bordered)
    down = replace(bordered, print=Print(mirror=True))
    assert "face down, 12.0 mm from every edge" in said(down)


def test_a_canvas_is_stiffened_for_paint_only(said: Said) -> None:
    painted = replace(SIX, support=replace(SIX.support, medium="paint"))
    assert "Stretched canvas" in said(painted)
    assert "canvas" not in said(SIX)
