"""Specs and plans as JSON.

Service, ledger, command and in-process making all read specs here, so that a spec that one of
them accepts is accepted by all, with the same meaning. The OpenAPI document is generated from
the same schemas. `fields` has the types of fields, `spec_schema` and `plan_schema` the fields
of specs and plans, and `field_errors` turns what is wrong into one error with dotted paths.
"""

from __future__ import annotations

from worker.spec.json.field_errors import flatten, spec_invalid
from worker.spec.json.plan_schema import PlanSchema, dump_plan, load_plan
from worker.spec.json.spec_schema import (
    WHOLE_PARTS,
    CropField,
    SpecSchema,
    check_part,
    dump_spec,
    load_spec,
)

__all__ = [
    "WHOLE_PARTS",
    "CropField",
    "PlanSchema",
    "SpecSchema",
    "check_part",
    "dump_plan",
    "dump_spec",
    "flatten",
    "load_plan",
    "load_spec",
    "spec_invalid",
]
