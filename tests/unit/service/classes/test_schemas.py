"""What a tutor settles is read strictly: nothing that merely looks like it."""

from __future__ import annotations

import math
from typing import Any

import pytest

from service.classes.schemas import ClassChangeSchema, ClassSettingsSchema, NewClassSchema


@pytest.mark.parametrize("value", ["5", True, 5.5, math.inf, -1, 1001, []])
def test_a_count_is_a_whole_number(value: Any) -> None:
    assert "photos" in ClassSettingsSchema().validate({"photos": value})


def test_a_count_may_be_left_open_and_written_with_a_point() -> None:
    assert ClassSettingsSchema().load({"photos": 5.0, "packs": None}) == {
        "photos": 5,
        "packs": None,
    }


@pytest.mark.parametrize(
    "value", ["9999-12-31T23:59:59-14:00", "0001-01-01T00:00:00+14:00", "2030-01-01T00:00:00", 5]
)
def test_a_closing_date_is_one_that_every_calendar_has(value: Any) -> None:
    assert "closes_at" in ClassChangeSchema().validate({"closes_at": value})


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "x" * 121, "\ud83d"])
def test_a_name_has_a_letter_and_one_line(name: str) -> None:
    assert "name" in NewClassSchema().validate({"name": name})


def test_fields_that_no_spec_has_are_refused() -> None:
    assert ClassSettingsSchema().validate({"may_change": ["crop", "colour"]})
    assert not ClassSettingsSchema().validate({"may_change": ["crop", "sheet.margin_mm"]})
