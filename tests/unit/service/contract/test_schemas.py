"""Schemas are described, and generators can take all of them."""

from __future__ import annotations

from typing import Any

from service.contract.schemas import nodes

Json = dict[str, Any]


def test_every_schema_is_described(contract: Json) -> None:
    schemas = contract["components"]["schemas"]
    assert [name for name, one in schemas.items() if not one.get("description")] == []


def test_line_weights_are_numbers_within_bounds(contract: Json) -> None:
    """The pens of ISO 128-2, 4.2, from 0.13 to 2 mm; an enum of fractions has no names."""
    weight = contract["components"]["schemas"]["Outline"]["properties"]["line_mm"]
    assert (weight["type"], weight["minimum"], weight["maximum"]) == ("number", 0.13, 2.0)
    assert "enum" not in weight
    assert "0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1, 1.4, 2" in weight["description"]


def test_no_enum_has_words_that_are_no_names(contract: Json) -> None:
    enums = [one["enum"] for one in nodes(contract) if isinstance(one.get("enum"), list)]
    assert enums
    assert all(isinstance(word, str | int) for enum in enums for word in enum)


def test_every_component_is_used(contract: Json) -> None:
    used = {str(one["$ref"]) for one in nodes(contract) if "$ref" in one}
    for kind in ("schemas", "responses", "examples"):
        for name in contract["components"][kind]:
            assert f"#/components/{kind}/{name}" in used
