"""The grid alone, for whoever draws by eye: two pages to print, and the picture for a screen."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.http.documented import BINARY
from service.http.schemas import MAX_TITLE_LETTERS
from service.packs.planner import plan_for
from service.packs.schemas import PlanRequestSchema
from service.packs.spec_resources import SpecResources
from service.runtime.context import get_context
from worker.errors import NotFound, ReferenceGone, SpecInvalid
from worker.make.grid import grid_picture, make_grid_pages
from worker.spec.json.fields import Line
from worker.spec.spec import Spec

blueprint = SpecResources(
    "grids",
    __name__,
    url_prefix="/v1/grids",
    description="The grid alone, to draw by eye, square by square.",
)


class GridRequestSchema(PlanRequestSchema):
    """The body of a request for the grid's pages."""

    title = Line(
        most=MAX_TITLE_LETTERS,
        load_default="",
        metadata={"description": "Printed at the head of both pages."},
    )


@blueprint.post("")
@blueprint.refuses(NotFound, ReferenceGone)
@blueprint.arguments(GridRequestSchema)
@blueprint.response(200, BINARY, content_type="application/pdf")
def create_grid(body: dict[str, Any]) -> Response:
    """Draw the two pages to work from without sheets; nothing is stored.

    They are those of a pack with a grid: the picture under its grid on one sheet, and where to
    tick the edges of the support. The spec has a grid.
    """
    spec = _with_grid(body["spec"])
    reference, plan = plan_for(body["reference_id"], spec)
    context = get_context()
    with (
        context.drawing_limit.slot(),
        context.storage.workspace() as folder,
        context.storage.file(f"{reference.files_key}/master.zip") as master,
    ):
        path = folder / "grid.pdf"
        threads = context.settings.threads
        make_grid_pages(master, spec, plan, title=body["title"], path=path, threads=threads)
        return _private(path.read_bytes(), "application/pdf")


@blueprint.post("/picture")
@blueprint.refuses(NotFound, ReferenceGone)
@blueprint.arguments(PlanRequestSchema)
@blueprint.response(200, BINARY, content_type="image/jpeg")
def create_grid_picture(body: dict[str, Any]) -> Response:
    """Show the picture as it would be printed, large enough for one square alone.

    It is up to 3200 pixels long, and as many as the photo has. The grid is not in it: `grid` of
    the plan says where it is. Nothing is stored.
    """
    spec = body["spec"]
    reference, plan = plan_for(body["reference_id"], spec)
    context = get_context()
    with (
        context.drawing_limit.slot(),
        context.storage.file(f"{reference.files_key}/master.zip") as master,
    ):
        shown = grid_picture(master, spec, plan, threads=context.settings.threads)
    return _private(shown, "image/jpeg")


def _with_grid(spec: Spec) -> Spec:
    if spec.grid is None:
        message = 'Say how large the squares are, for example {"square_mm": 50}.'
        raise SpecInvalid(message, fields={"grid": [message]}, field="grid")
    return spec


def _private(data: bytes, content_type: str) -> Response:
    response = Response(data, content_type=content_type)
    # It shows a person's photo: shared caches must not keep it.
    response.headers["Cache-Control"] = "private, no-store"
    return response
