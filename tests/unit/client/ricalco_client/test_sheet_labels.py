"""Labels of sheets as people write them, for addresses; held to what the service prints."""

from __future__ import annotations

import pytest

from ricalco_client.sheet_labels import file_in_address, in_address
from worker.spec.sheet_labels import address_label, sheet_label


@pytest.mark.parametrize("typed", [sheet_label(1, 11), "2-12", "2.12", "2–12", " 2·12 "])
def test_every_form_is_one_address(typed: str) -> None:
    assert in_address(typed) == address_label(1, 11)


def test_what_is_no_label_stays_for_the_service_to_refuse() -> None:
    assert in_address("A4") == "A4"


@pytest.mark.parametrize(
    ("file", "address"),
    [
        ("sheets/2·3.pdf", "sheets/2-3.pdf"),
        ("sheets/2.3.png", "sheets/2-3.png"),
        ("sheets/2-3.pdf", "sheets/2-3.pdf"),
        ("pack.pdf", "pack.pdf"),
        ("map.png", "map.png"),
    ],
)
def test_files_of_sheets_too(file: str, address: str) -> None:
    assert file_in_address(file) == address
