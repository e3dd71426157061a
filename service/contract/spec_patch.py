"""`SpecPatch`: a part of a spec, typed, where a class or a batch says what packs start from.

It is the spec with nothing required and nothing filled in; a crop and a grid are given whole,
since parts of two make no valid one (`service.access.settled_spec`). The document derives it from
the spec's own schema, so that a new field is in both.
"""

from __future__ import annotations

import copy
from typing import Any

from service.contract.schemas import named
from worker.spec.json import WHOLE_PARTS

Json = dict[str, Any]
SPEC_PATCH = "SpecPatch"
#: The mark of fields that hold one.
MARK = "x-spec-patch"


def add_spec_patch(contract: Json) -> None:
    """Add the schema, and refer to it wherever a field holds a part of a spec."""
    schemas = contract["components"]["schemas"]
    patches: Json = {}
    if "Spec" in schemas:
        _make(schemas, "Spec", patches)
    for schema in schemas.values():
        for field, told in schema.get("properties", {}).items():
            if told.get(MARK):
                reference = {"$ref": f"#/components/schemas/{SPEC_PATCH}"}
                schema["properties"][field] = {"description": told["description"], **reference}
    schemas.update(patches)


def _make(schemas: Json, name: str, patches: Json) -> str:
    """Make the part of one schema, and of all that it leads to; returns its name."""
    patched = f"{name}Patch"
    if patched in patches:
        return patched
    schema = copy.deepcopy(schemas[name])
    schema.pop("required", None)
    schema["description"] = f"Any of the fields of {name}; those left out stay as they were."
    patches[patched] = schema
    for field, told in schema["properties"].items():
        told.pop("default", None)
        below = named(told.get("$ref", ""))
        if below and field not in WHOLE_PARTS:
            told["$ref"] = f"#/components/schemas/{_make(schemas, below, patches)}"
    return patched
