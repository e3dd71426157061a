"""Named sizes of sheets and supports, each with the source of its figures."""

from __future__ import annotations

from typing import Any

from service.http.resources import Resources
from service.printers.schemas import SizesSchema
from worker.spec.formats import SHEET_FORMATS, SUPPORTS

blueprint = Resources("sizes", __name__, url_prefix="/v1", description="Sizes known by name.")


@blueprint.get("/sheet-formats")
@blueprint.response(200, SizesSchema)
def list_sheet_formats() -> dict[str, Any]:
    """Sheets that printers take, by PWG 5101.1 name."""
    return {"items": list(SHEET_FORMATS.values())}


@blueprint.get("/supports")
@blueprint.response(200, SizesSchema)
def list_supports() -> dict[str, Any]:
    """Papers and boards as the trade names them; measure yours, it may differ."""
    return {"items": list(SUPPORTS)}
