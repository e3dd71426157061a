"""Previews: the picture as it would be printed, reduced in size, or a part of it; not stored."""

from __future__ import annotations

from typing import Any

from flask import Response
from marshmallow import fields

from service.http.documented import BINARY
from service.http.resources import request_invalid
from service.packs.planner import plan_for
from service.packs.schemas import PlanRequestSchema
from service.packs.spec_resources import SpecResources
from service.runtime.context import get_context
from worker.errors import NotFound, ReferenceGone
from worker.make.close_up import close_up
from worker.picture.preview import Preview, preview
from worker.spec.json.fields import Number, Record, between
from worker.spec.json.spec_schema import MAX_SUPPORT_MM
from worker.spec.plan import Rect, Size

MIN_WIDTH_PX, MAX_WIDTH_PX, WIDTH_PX = 200, 1600, 1000
#: Sides of a part that is shown from near: so much paper is no more work than a sheet.
MIN_PART_MM, MAX_PART_MM = 5, 300
#: What sums of rounded lengths may reach beyond the picture.
_SLACK_MM = 0.01
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


class PicturePartSchema(Record):
    """A part of the picture as printed, in millimetres from its top left.

    `picture_rect_mm` of a plan's pieces is one.
    """

    makes = Rect

    left = Number(required=True, validate=between(0, MAX_SUPPORT_MM))
    top = Number(required=True, validate=between(0, MAX_SUPPORT_MM))
    width = Number(required=True, validate=between(MIN_PART_MM, MAX_PART_MM))
    height = Number(required=True, validate=between(MIN_PART_MM, MAX_PART_MM))


class PreviewRequestSchema(PlanRequestSchema):
    """The body of a request for a preview."""

    width_px = fields.Integer(
        strict=True, load_default=WIDTH_PX, validate=between(MIN_WIDTH_PX, MAX_WIDTH_PX)
    )
    part_mm = fields.Nested(
        PicturePartSchema,
        load_default=None,
        metadata={"description": "Shows this part from near, as sheets have it."},
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

    With `part_mm` it is a close-up: that part alone, as it will be on paper, with the softness
    and the line weights of the print, and with grid and register marks.
    """
    spec, part_mm = body["spec"], body["part_mm"]
    reference, plan = plan_for(body["reference_id"], spec)
    context = get_context()
    threads, find = context.settings.threads, context.style_cache.finder(reference.id)
    part_mm = part_mm and _inside(part_mm, plan.picture)
    with (
        context.drawing_limit.slot(),
        context.storage.file(f"{reference.files_key}/master.zip") as master,
    ):
        if part_mm is None:
            shown = preview(master, spec, plan, body["width_px"], threads=threads, find=find)
        else:
            width_px = body["width_px"]
            shown = close_up(master, spec, plan, part_mm, width_px, threads=threads, find=find)
    return _response(shown)


def _inside(part_mm: Rect, picture: Size) -> Rect:
    """A part, less what rounding has put beyond the picture.

    Raises:
        RequestInvalid: It reaches beyond the picture; names the side.
    """
    width_mm = _shortened(part_mm.left, part_mm.width, picture.width_mm, "width")
    height_mm = _shortened(part_mm.top, part_mm.height, picture.height_mm, "height")
    return Rect(part_mm.left, part_mm.top, width_mm, height_mm)


def _shortened(start_mm: float, length_mm: float, whole_mm: float, side: str) -> float:
    if start_mm + length_mm > whole_mm + _SLACK_MM:
        start = {"width": "left", "height": "top"}[side]
        sentence = f"{start} + {side} must not exceed the picture's {whole_mm:g} mm."
        raise request_invalid({f"part_mm.{side}": [sentence]})
    return min(length_mm, whole_mm - start_mm)


def _response(shown: Preview) -> Response:
    response = Response(shown.png, content_type="image/png")
    # It shows a person's photo: shared caches must not keep it.
    response.headers["Cache-Control"] = "private, no-store"
    if shown.thresholds is not None:
        response.headers[THRESHOLDS] = ", ".join(f"{each:.4f}" for each in shown.thresholds)
    if shown.tones is not None:
        response.headers[TONES] = ", ".join(map(str, shown.tones))
    return response
