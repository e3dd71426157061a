"""In which strips a picture is transferred."""

import pytest

from worker.layout.passes import on_wall, passes
from worker.spec.plan import Piece, Rect, Size


def pieces(rows: int, columns: int) -> tuple[Piece, ...]:
    return tuple(
        Piece(
            label=f"{row}/{column}",
            page=4,
            row=row,
            column=column,
            picture_rect_mm=Rect(column * 100, row * 100, 100, 100),
            lap_right_mm=0,
            lap_bottom_mm=0,
            sheet_rect_mm=Rect(5, 15, 100, 100),
            turned_deg=0,
            neighbours={"top": (), "right": (), "bottom": (), "left": ()},
        )
        for row in range(rows)
        for column in range(columns)
    )


@pytest.mark.parametrize(
    ("size", "wall"),
    [((600, 400), False), ((2200, 1000), False), ((3000, 2000), True), ((1000, 4000), True)],
)
def test_what_no_table_takes_goes_on_a_wall(size: tuple[float, float], *, wall: bool) -> None:
    assert on_wall(Size(*size)) is wall
    assert on_wall(Size(*reversed(size))) is wall


def test_on_a_table_strips_run_from_the_free_edge_to_the_hinge() -> None:
    """The hinge is at the top, so the paper is lifted from the bottom (common practice)."""
    strips = passes(pieces(3, 2))
    assert [strip.labels for strip in strips] == [("2/0", "2/1"), ("1/0", "1/1"), ("0/0", "0/1")]
    assert [strip.number for strip in strips] == [1, 2, 3]


def test_face_down_the_last_column_is_at_the_left() -> None:
    assert passes(pieces(1, 3), face_down=True)[0].labels == ("0/2", "0/1", "0/0")


def test_on_a_wall_strips_come_from_the_top_or_from_the_left() -> None:
    rows = passes(pieces(2, 2), from_top=True)
    assert [strip.labels for strip in rows] == [("0/0", "0/1"), ("1/0", "1/1")]
    columns = passes(pieces(2, 2), from_top=True, columns=True)
    assert [strip.labels for strip in columns] == [("0/0", "1/0"), ("0/1", "1/1")]
