"""Codes as people type them."""

from __future__ import annotations

import pytest

from worker.spec.short_codes import read_code, shown_code


@pytest.mark.parametrize("written", ["7K3F-Q20D", "7k3f q20d", " 7K3FQ2OD", "7k3f–q2od "])
def test_a_number_is_known_however_it_is_typed(written: str) -> None:
    assert shown_code(read_code(written)) == "7K3F-Q20D"


def test_letters_that_no_number_has_are_read_for_figures() -> None:
    """Crockford's base 32 leaves out I, L and O, which look like 1, 1 and 0."""
    assert read_code("iIlL-oO01") == "11110001"
