"""What the guide says about a wall. Level, plumb line and pouncing are common practice there."""

from collections.abc import Callable
from dataclasses import replace

from worker.spec.spec import Grid, Print, Seams, Spec, Support, Tone

WALL = Spec(support=Support(width_mm=3000, height_mm=2000))

Said = Callable[[Spec], str]


def test_the_wall_is_set_out_with_level_and_plumb_line(said: Said) -> None:
    text = said(WALL)
    assert "the bottom edge by a level, the left edge by a plumb line" in text
    # 3000 × 2000: the diagonal is 1000 × √13.
    assert "3000 × 2000 mm. Both diagonals are 3605.6 mm" in text
    # Ten rows, 200 mm each: sheets are 200 mm high where they lie on their side.
    assert "row 9 200.0, row 8 400.0" in text
    assert "row 1 1800.0." in text


def test_columns_that_run_through_hang_by_plumb_lines(said: Said) -> None:
    tall = Spec(
        support=Support(width_mm=1000, height_mm=2600), seams=Seams(arrangement="staggered")
    )
    text = said(tall)
    assert ("Tape the left column" in text) is ("plumb line for the left edge" in text)
    assert ("Tape the top row" in text) is ("level line for the bottom edge" in text)


def test_powder_shows_on_the_wall(said: Said) -> None:
    assert "powdered charcoal. Do not rub" in said(WALL)
    dark = replace(WALL, support=replace(WALL.support, tone="dark"))
    assert "powdered chalk. Do not rub" in said(dark)
    assert "white chalk or thinned paint" in said(dark)


def test_what_is_pricked_is_what_the_style_prints(said: Said) -> None:
    assert "Prick the edges" in said(WALL)
    assert "prick all of them" in said(replace(WALL, tone=Tone(style="mixed")))
    assert "Prick the borders" in said(replace(WALL, tone=Tone(style="values")))


def test_a_grid_does_without_a_cartoon(said: Said) -> None:
    assert "make the pack again with a grid" in said(WALL)
    assert "grid of pages 4 and 5" in said(replace(WALL, grid=Grid(square_mm=250)))


def test_a_mirrored_cartoon_hangs_with_its_face_to_the_wall(said: Said) -> None:
    assert "printed side to the wall" in said(replace(WALL, print=Print(mirror=True)))
    assert "printed side" not in said(WALL)
