"""A part of a spec is typed where classes and batches take one."""

from __future__ import annotations

from typing import Any

import jsonschema_rs
import pytest

Json = dict[str, Any]
PATCH = {"$ref": "#/components/schemas/SpecPatch"}


def valid(contract: Json, patch: Json) -> bool:
    schema = {**PATCH, "components": contract["components"]}
    checker = jsonschema_rs.Draft202012Validator(schema)
    return bool(checker.is_valid(patch))


def test_it_stands_wherever_a_part_of_a_spec_does(contract: Json) -> None:
    schemas = contract["components"]["schemas"]
    for name, field in [
        ("ClassSettings", "defaults"),
        ("Settled", "defaults"),
        ("BatchRequest", "spec"),
        ("BatchItemRequest", "spec"),
    ]:
        assert schemas[name]["properties"][field]["$ref"] == PATCH["$ref"]


@pytest.mark.parametrize(
    "patch",
    [{}, {"support": {"width_mm": 300}}, {"sheet": {"margin_mm": {"top": 4}}}, {"grid": None}],
)
def test_any_part_is_one(contract: Json, patch: Json) -> None:
    assert valid(contract, patch)


@pytest.mark.parametrize(
    "patch",
    [
        {"suport": {}},
        {"support": {"width": 300}},
        {"support": {"width_mm": 3}},
        # A crop and a grid are given whole.
        {"grid": {"diagonals": True}},
        {"crop": {"left": 0}},
    ],
)
def test_what_no_spec_has_is_none(contract: Json, patch: Json) -> None:
    assert not valid(contract, patch)


def test_nothing_is_filled_in(contract: Json) -> None:
    """A default would say that what is left out is set to it; it stays as it was."""
    schemas = contract["components"]["schemas"]
    assert "default" not in str({n: s for n, s in schemas.items() if n.endswith("Patch")})
