"""What the guide says about joining."""

from collections.abc import Callable
from dataclasses import replace

from worker.spec.spec import Print, Seams, Spec, Support

SIX = Spec(support=Support(width_mm=600, height_mm=400))
LAPPED = replace(SIX, seams=Seams(joint="lap", lap_mm=8))
WALL = Spec(support=Support(width_mm=3000, height_mm=2000))

Said = Callable[[Spec], str]


def test_sheets_are_tacked_on_the_face_and_taped_on_the_back(said: Said) -> None:
    text = said(SIX)
    tack, back = text.index("Tack them on the face"), text.index("along its whole length")
    assert tack < back < text.index("take the pieces off the face")
    assert "straight edge" in text
    assert "junctions first" in text
    assert "matt tape that takes a pen" in text


def test_what_lies_face_down_is_taped_on_the_back_alone(said: Said) -> None:
    text = said(replace(SIX, print=Print(mirror=True)))
    assert "along its whole length on the back" in text
    assert "matt tape" not in text


def test_laps_are_glued(said: Said) -> None:
    text = said(LAPPED)
    assert "Glue the laps, do not tape them" in text
    assert "dry flat" in text
    assert "junctions" not in text


def test_pairs_come_before_rows(said: Said) -> None:
    assert "Pairs first, then whole rows (row 1: 1·1 – 1·2 – 1·3), then row to row" in said(SIX)


def test_one_row_or_column_is_joined_along(said: Said) -> None:
    assert "From the top down: join 1·1 – 2·1 – 3·1 – 4·1." in said(
        Spec(support=Support(width_mm=100, height_mm=900))
    )
    assert "Join 1·1 – 1·2." in said(Spec(support=Support(width_mm=330, height_mm=170)))


def test_a_wall_gets_strips(said: Said) -> None:
    text = said(WALL)
    assert "Join each row by itself into a strip" in text
    assert "Do not join the rows." in text
    assert "Roll it up" in text


def test_register_marks_are_read_where_there_are_any(said: Said) -> None:
    assert "the long middle ticks meet" in said(SIX)
    assert "register mark" not in said(replace(SIX, seams=Seams(register_marks=False)))
