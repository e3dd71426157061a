"""Columns begin where they should, and give way to longer texts."""

from worker.pages.map.table import column_starts


def test_columns_begin_at_their_shares_where_texts_leave_room() -> None:
    assert column_starts((0.0, 0.4, 0.7), (10, 10, 10), 100.0) == [0.0, 40.0, 70.0]


def test_a_longer_text_moves_the_columns_after_it() -> None:
    assert column_starts((0.0, 0.4, 0.7), (10, 35, 10), 100.0) == [0.0, 40.0, 75.0]


def test_what_would_end_beyond_the_width_moves_back() -> None:
    assert column_starts((0.0, 0.4, 0.7), (10, 10, 60), 100.0) == [0.0, 30.0, 40.0]
