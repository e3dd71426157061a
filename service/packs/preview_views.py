"""Previews: the picture as it would be printed, reduced in size and not stored."""

from __future__ import annotations

from typing import Any

from flask import Response
from marshmallow import fields

from service.http.documented import BINARY
from service.packs.planner import plan_for
from service.packs.schemas import PlanRequestSchema
from service.packs.spec_resources import SpecResources
from service.runtime.context import get_context
from worker.errors import NotFound, ReferenceGone
from worker.picture.preview import Preview, preview
from worker.spec.json.fields import between

MIN_WIDTH_PX, MAX_WIDTH_PX, WIDTH_PX = 200, 1600, 1000
#: The response header with the thresholds between tones that were found in the picture.
THRESHOLDS = "Ricalco-Thresholds"
#: That with the greys, 0 to 255, that the tones are printed in.
TONES = "Ricalco-Tones"

_HEADERS = {
    THRESHOLDS: {
        "description": "Where tones part, in shares of the printed grey: numbers, comma between.",
        "schema": {"type": "string"},
    },
    TONES: {
        "description": "The greys of the tones, 0 to 255: numbers, comma between.",
        "schema": {"type": "string"},
    },
}

blueprint = SpecResources(
    "previews",
    __name__,
    url_prefix="/v1/previews",
    description="What will be printed, on a screen.",
)


class PreviewRequestSchema(PlanRequestSchema):
    """The body of a request for a preview."""

    width_px = fields.Integer(
        strict=True, load_default=WIDTH_PX, validate=between(MIN_WIDTH_PX, MAX_WIDTH_PX)
    )


@blueprint.post("")
@blueprint.refuses(NotFound, ReferenceGone)
@blueprint.arguments(PreviewRequestSchema)
@blueprint.response(200, BINARY, content_type="image/png", headers=_HEADERS)
def create_preview(body: dict[str, Any]) -> Response:
    """Show the picture in the tones or lines that it would be printed in; nothing is stored.

    Grid, seams and marks are not in it: the plan tells where they are. For the style
    `values`, the header `Ricalco-Thresholds` tells where its tones part, in shares of the
    printed grey, and `Ricalco-Tones` in which greys (0 to 255) they are printed. A picture
    that is much taller than wide is shown narrower than asked for.
    """
    spec = body["spec"]
    reference, plan = plan_for(body["reference_id"], spec)
    context = get_context()
    with (
        context.drawing_limit.slot(),
        context.storage.file(f"{reference.files_key}/master.zip") as master,
    ):
        shown = preview(master, spec, plan, body["width_px"], threads=context.settings.threads)
    return _response(shown)


def _response(shown: Preview) -> Response:
    response = Response(shown.png, content_type="image/png")
    # It shows a person's photo: shared caches must not keep it.
    response.headers["Cache-Control"] = "private, no-store"
    if shown.thresholds is not None:
        response.headers[THRESHOLDS] = ", ".join(f"{each:.4f}" for each in shown.thresholds)
    if shown.tones is not None:
        response.headers[TONES] = ", ".join(map(str, shown.tones))
    return response
