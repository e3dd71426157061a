"""Labels of sheets: one form in print, one in addresses, and what people type."""

from __future__ import annotations

import re
from urllib.parse import quote

import pytest

from worker.spec.formats import SHEET_FORMATS, SUPPORTS
from worker.spec.sheet_labels import ADDRESS, address_label, read_label, sheet_label


@pytest.mark.parametrize(("row", "column"), [(0, 0), (1, 2), (11, 0), (0, 11), (122, 44)])
def test_both_forms_are_read_back(row: int, column: int) -> None:
    assert read_label(sheet_label(row, column)) == (row, column)
    assert read_label(address_label(row, column)) == (row, column)


def test_row_and_place_are_counted_from_one() -> None:
    assert sheet_label(1, 2) == "2·3"
    assert address_label(1, 2) == "2-3"


def test_an_address_needs_no_encoding() -> None:
    # RFC 3986, 2.3: letters, figures, hyphen, period, underscore and tilde.
    assert quote(address_label(1, 2), safe="") == address_label(1, 2)
    assert re.fullmatch(ADDRESS, address_label(1, 2))


@pytest.mark.parametrize("typed", ["2·3", "2-3", "2.3", "2–3", " 2 · 3 "])
def test_what_people_type_is_read(typed: str) -> None:
    assert read_label(typed) == (1, 2)


@pytest.mark.parametrize("typed", ["", "A4", "23", "0·1", "1·0", "2·3·4", "-2-3", "٢·٣"])
def test_what_names_no_sheet_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match="such as 2-3"):
        read_label(typed)


def test_no_sheet_is_named_like_paper() -> None:
    titles = {one.title.lower() for one in SHEET_FORMATS.values()}
    titles |= {one.title.lower() for one in SUPPORTS}
    assert not titles & {sheet_label(row, column) for row in range(8) for column in range(8)}
    assert not any(sign.isalpha() for sign in sheet_label(30, 30))
