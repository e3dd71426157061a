"""Plans: how a picture is divided into sheets, computed at once and not stored."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.http.answers.json_responses import json_response
from service.packs.planner import plan_for
from service.packs.schemas import PlanRequestSchema
from service.packs.spec_resources import SpecResources
from worker.errors import NotFound, ReferenceGone
from worker.spec.json import PlanSchema, dump_plan

blueprint = SpecResources(
    "plans", __name__, url_prefix="/v1/plans", description="How a picture becomes sheets."
)


@blueprint.post("")
@blueprint.refuses(NotFound, ReferenceGone)
@blueprint.arguments(PlanRequestSchema)
@blueprint.response(200, PlanSchema)
def create_plan(body: dict[str, Any]) -> Response:
    """Plan the sheets; nothing is stored."""
    _, plan = plan_for(body["reference_id"], body["spec"])
    return json_response(dump_plan(plan))
