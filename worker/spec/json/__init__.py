"""The contract in JSON: specs are read and checked here, plans are written here.

The service, the ledger, the command and the in-process making all read a spec through
this one door, so that a spec that one of them takes is taken by all of them, and means
the same. The schemas are also what the OpenAPI document is generated from.
"""

from __future__ import annotations

from worker.spec.json.field_errors import flatten, spec_invalid
from worker.spec.json.plan_schema import PlanSchema, dump_plan, load_plan
from worker.spec.json.spec_schema import CropField, SpecSchema, dump_spec, load_spec

__all__ = [
    "CropField",
    "PlanSchema",
    "SpecSchema",
    "dump_plan",
    "dump_spec",
    "flatten",
    "load_plan",
    "load_spec",
    "spec_invalid",
]
