"""What a tutor settles lies under a student's spec, and partly over it."""

from __future__ import annotations

from typing import Any

import pytest

from service.access.settled_spec import check_defaults, check_fixed, field_paths, start_from
from worker.errors import SpecError, SpecFixed
from worker.spec.json import dump_spec, load_spec

PAPER = {"width_mm": 300.0, "height_mm": 200.0}
DEFAULTS: dict[str, Any] = {"support": PAPER, "sheet": {"margin_mm": {"bottom": 18}}}


def spec(**own: Any) -> dict[str, Any]:
    """A student's spec as it is kept."""
    return dump_spec(load_spec(start_from(DEFAULTS, own)))


def test_defaults_fill_up_what_is_left_out_at_any_depth() -> None:
    whole = start_from(DEFAULTS, {"sheet": {"margin_mm": {"top": 3}}, "rotate_deg": 2})
    assert whole["sheet"]["margin_mm"] == {"bottom": 18, "top": 3}
    assert (whole["support"], whole["rotate_deg"]) == (PAPER, 2)
    assert DEFAULTS["sheet"] == {"margin_mm": {"bottom": 18}}


def test_a_crop_is_taken_as_a_whole() -> None:
    area = {"left": 0, "top": 0, "width": 1, "height": 1}
    assert start_from({"crop": area}, {"crop": {"focus": [0.5, 0.5]}})["crop"] == {
        "focus": [0.5, 0.5]
    }


@pytest.mark.parametrize(
    ("own", "may_change"),
    [
        ({}, ()),
        ({"rotate_deg": 5}, None),
        ({"rotate_deg": 5}, ("rotate_deg",)),
        ({"sheet": {"margin_mm": {"top": 3}}}, ("sheet",)),
        ({"crop": {"focus": [0.2, 0.2]}}, ("crop",)),
        # Saying what is settled changes nothing.
        ({"support": PAPER, "rotate_deg": 0}, ()),
    ],
)
def test_what_may_be_changed(own: dict[str, Any], may_change: tuple[str, ...] | None) -> None:
    check_fixed(spec(**own), DEFAULTS, may_change)


@pytest.mark.parametrize(
    ("own", "may_change", "field"),
    [
        ({"support": {"width_mm": 301}}, ("crop",), "support.width_mm"),
        ({"sheet": {"margin_mm": {"bottom": 5}}}, ("sheet.format",), "sheet.margin_mm.bottom"),
        ({"crop": {"focus": [0.2, 0.2]}}, (), "crop"),
        # `sheets` is not below `sheet`.
        ({"tone": {"style": "colour"}}, ("ton",), "tone.style"),
    ],
)
def test_what_may_not(own: dict[str, Any], may_change: tuple[str, ...], field: str) -> None:
    with pytest.raises(SpecFixed) as caught:
        check_fixed(spec(**own), DEFAULTS, may_change)
    assert caught.value.field == field


def test_without_a_support_of_the_class_everybody_says_their_own() -> None:
    check_fixed(dump_spec(load_spec({"support": PAPER})), {}, ("crop",))


def test_defaults_that_no_spec_can_start_from_are_refused() -> None:
    check_defaults({})
    check_defaults({"sheet": {"format": "iso_a3_297x420mm"}})
    for wrong in ({"suport": {}}, {"support": {"width_mm": -1}}, {"rotate_deg": "ten"}):
        with pytest.raises(SpecError):
            check_defaults(wrong)


def test_fields_are_known_with_their_wholes() -> None:
    assert {"support", "support.tone", "sheet.margin_mm", "sheet.margin_mm.top", "crop"} <= (
        field_paths()
    )
    assert "crop.left" not in field_paths()
