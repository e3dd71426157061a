"""Tables open in a spreadsheet as they are meant (RFC 4180; OWASP, "CSV Injection")."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.classes.tables.csv_writer import Cell, write_table


def read(rows: list[list[Cell]]) -> list[list[str]]:
    data = b"".join(write_table(("Name", "Sheets"), rows))
    assert data.startswith(b"\xef\xbb\xbf")
    text = data.decode("utf-8-sig")
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def test_it_has_a_mark_and_ends_its_rows_as_the_standard_says() -> None:
    rows: list[list[Cell]] = [["Okafor, Ada", 6], ['Ben "Benny"', None]]
    assert b"".join(write_table(("Name", "Sheets"), rows)).decode("utf-8-sig") == (
        'Name,Sheets\r\n"Okafor, Ada",6\r\n"Ben ""Benny""",\r\n'
    )


@pytest.mark.parametrize("first", [*"=+-@\t", "\uff1d", " =", "  @"])
def test_no_cell_is_a_formula(first: str) -> None:
    cell = read([[f"{first}SUM(A1)", -3]])[1]
    assert cell == [f"'{first}SUM(A1)", "-3"]


@given(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=2, max_size=2))
def test_any_text_comes_back(cells: list[str]) -> None:
    row = read([list(cells)])[1]
    for wrote, found in zip(cells, row, strict=True):
        plain = wrote.replace("\0", "").replace("\r\n", "\n").replace("\r", "\n")
        assert found.removeprefix("'") == plain.removeprefix("'")
        assert not found.startswith(tuple("=+-@\t\r\n"))
