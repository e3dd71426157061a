"""The grid alone over HTTP."""

from __future__ import annotations

import io
from typing import Any

import pypdfium2
import pytest
from PIL import Image

from ricalco_client.api import Ricalco
from ricalco_client.errors import SpecRefused

SPEC = {"support": {"width_mm": 300, "height_mm": 200}, "tone": {"style": "colour"}}
GRID = {"grid": {"square_mm": 50}}


def test_pages_and_picture_come_at_once(api: Any, reference: dict[str, Any]) -> None:
    service = Ricalco(api.url)
    pages = service.grids.pages(reference["id"], {**SPEC, **GRID}, title="Quinces")
    with pypdfium2.PdfDocument(pages) as pdf:
        assert len(pdf) == 2
        assert "Quinces" in pdf[0].get_textpage().get_text_bounded()
    shown = Image.open(io.BytesIO(service.grids.picture(reference["id"], SPEC)), formats=["JPEG"])
    assert shown.width / shown.height == pytest.approx(1.5, abs=0.01)
    with pytest.raises(SpecRefused) as refused:
        service.grids.pages(reference["id"], SPEC)
    assert (refused.value.code, refused.value.field) == ("spec-invalid", "grid")
