"""Previews over HTTP, with the real server, files and client library."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
import requests
from PIL import Image

from ricalco_client.api import Ricalco
from ricalco_client.errors import SpecRefused, StateRefused

Json = dict[str, Any]
SUPPORT = {"width_mm": 300, "height_mm": 200}
CORNER = {"left": 0, "top": 0, "width": 60, "height": 50}


def ask(api: Any, reference: Json, tone: Json, **more: Any) -> requests.Response:
    body = {"reference_id": reference["id"], "spec": {"support": SUPPORT, "tone": tone}, **more}
    return requests.post(f"{api.url}/v1/previews", json=body, timeout=60)


def picture_of(answer: requests.Response) -> Image.Image:
    assert answer.status_code == 200, answer.text
    assert answer.headers["Content-Type"] == "image/png"
    picture = Image.open(io.BytesIO(answer.content), formats=["PNG"])
    picture.load()
    return picture


@pytest.mark.parametrize(
    ("style", "mode"),
    [("grey", "L"), ("colour", "RGB"), ("values", "L"), ("outline", "L"), ("mixed", "L")],
)
def test_every_style_is_shown(api: Any, reference: Json, style: str, mode: str) -> None:
    answer = ask(api, reference, {"style": style}, width_px=450)
    picture = picture_of(answer)
    assert (picture.mode, picture.size) == (mode, (450, 300))
    assert len(np.unique(np.asarray(picture))) > 2
    assert answer.headers["Cache-Control"] == "private, no-store"
    for name in ("Ricalco-Thresholds", "Ricalco-Tones"):
        assert (name in answer.headers) == (style == "values")


def test_thresholds_are_told_and_can_be_given_back(api: Any, reference: Json) -> None:
    found = ask(api, reference, {"style": "values", "values": {"count": 4}})
    told = [float(each) for each in found.headers["Ricalco-Thresholds"].split(",")]
    assert len(told) == 3
    assert told == sorted(told)
    given = ask(api, reference, {"style": "values", "values": {"count": 4, "thresholds": told}})
    off = np.asarray(picture_of(found)) != np.asarray(picture_of(given))
    assert off.mean() < 0.001


def test_it_is_the_picture_that_is_asked_for(api: Any, reference: Json) -> None:
    plain = np.asarray(picture_of(ask(api, reference, {"style": "grey"})))
    light = np.asarray(picture_of(ask(api, reference, {"style": "grey", "lighten": 0.5})))
    assert plain.shape[1] == 1000
    assert light.min() >= 127
    assert light.mean() > plain.mean()


def test_a_part_is_shown_as_it_will_be_on_paper(api: Any, reference: Json) -> None:
    part_mm = {"left": 100, "top": 70.5, "width": 60, "height": 40}
    whole = ask(api, reference, {"style": "mixed"}, width_px=1500)
    near = ask(api, reference, {"style": "mixed"}, width_px=300, part_mm=part_mm)
    assert near.headers["Cache-Control"] == "private, no-store"
    picture = picture_of(near)
    assert (picture.mode, picture.size) == ("L", (300, 200))
    # The same place of the whole, at the same 5 pixels a millimetre; that has no marks. Lines and
    # edges lie there, and not 2 mm beside.
    shown = np.asarray(picture_of(whole), float)

    def off(right: int) -> float:
        place = shown[352:552, 500 + right : 800 + right]
        return float(np.abs(np.asarray(picture, float) - place).mean())

    assert off(0) < 0.5 * min(off(-10), off(10))


def test_a_part_up_to_the_edges_may_be_rounded(api: Any, reference: Json) -> None:
    part_mm = {"left": 270.004, "top": 160.006, "width": 30, "height": 40}
    assert picture_of(ask(api, reference, {"style": "grey"}, width_px=240, part_mm=part_mm))


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"part_mm": {**CORNER, "left": 250}}, "request-invalid", "part_mm.width"),
        ({"part_mm": {**CORNER, "top": 150.1}}, "request-invalid", "part_mm.height"),
        ({"part_mm": {**CORNER, "left": -1}}, "request-invalid", "part_mm.left"),
        ({"part_mm": {**CORNER, "width": 4}}, "request-invalid", "part_mm.width"),
        ({"part_mm": {**CORNER, "height": 301}}, "request-invalid", "part_mm.height"),
        ({"part_mm": {"left": 0, "top": 0, "width": 60}}, "request-invalid", "part_mm.height"),
        ({"part_mm": {**CORNER, "scale": 3}}, "request-invalid", "part_mm.scale"),
        ({"width_px": 100}, "request-invalid", "width_px"),
        ({"width_px": 2000}, "request-invalid", "width_px"),
        ({"width_px": "wide"}, "request-invalid", "width_px"),
        ({"spec": {"support": SUPPORT, "tone": {"style": "oil"}}}, "spec-invalid", "tone.style"),
        (
            {"spec": {"support": SUPPORT, "sheet": {"format": "a nap"}}},
            "sheet-format-unknown",
            "sheet.format",
        ),
        ({"reference_id": "ref_" + "A" * 22}, "not-found", None),
    ],
)
def test_what_cannot_be_shown_is_told(
    api: Any, reference: Json, change: Json, code: str, field: str | None
) -> None:
    body = {"reference_id": reference["id"], "spec": {"support": SUPPORT}, **change}
    answer = requests.post(f"{api.url}/v1/previews", json=body, timeout=60)
    assert answer.headers["Content-Type"] == "application/problem+json"
    problem = answer.json()
    assert problem["code"] == code
    if field is not None:
        assert problem["field"].endswith(field)


def test_the_library_fetches_it(api: Any, reference: Json) -> None:
    ricalco = Ricalco(api.url)
    spec = {"support": SUPPORT, "tone": {"style": "values", "values": {"count": 3}}}
    shown = ricalco.previews.fetch(reference["id"], spec, width_px=300)
    assert Image.open(io.BytesIO(shown.png)).size == (300, 200)
    assert len(shown.thresholds) == 2
    plain = ricalco.previews.fetch(reference["id"], {"support": SUPPORT})
    near = ricalco.previews.fetch(reference["id"], spec, width_px=300, part_mm=CORNER)
    assert Image.open(io.BytesIO(near.png)).size == (300, 250)
    assert near.tones == shown.tones
    assert plain.thresholds == ()
    with pytest.raises(SpecRefused):
        ricalco.previews.fetch(reference["id"], {"support": {"width_mm": 1, "height_mm": 1}})
    with pytest.raises(StateRefused):
        ricalco.previews.fetch("ref_" + "A" * 22, {"support": SUPPORT})
