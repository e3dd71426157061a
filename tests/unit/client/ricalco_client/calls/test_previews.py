"""Fetching previews, against a service without a socket."""

from __future__ import annotations

import json
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import AnswerUnreadable, SpecRefused

SPEC = {"support": {"width_mm": 600, "height_mm": 400}}
PNG = b"\x89PNG\r\n\x1a\nrest"


def test_a_picture_comes_with_its_thresholds(ricalco: Ricalco, service: Any) -> None:
    service.answer(PNG, Ricalco_Thresholds="0.21, 0.4800")
    shown = ricalco.previews.fetch("ref_1", SPEC, width_px=600)
    assert (shown.png, shown.thresholds) == (PNG, (0.21, 0.48))
    sent = service.asked[0]
    assert (sent.method, sent.url) == ("POST", "http://ricalco.test/v1/previews")
    assert json.loads(service.bodies[0]) == {
        "reference_id": "ref_1",
        "spec": SPEC,
        "width_px": 600,
    }


def test_the_services_own_width_is_left_to_it(ricalco: Ricalco, service: Any) -> None:
    service.answer(PNG)
    assert ricalco.previews.fetch("ref_1", SPEC).thresholds == ()
    assert "width_px" not in json.loads(service.bodies[0])


def test_a_part_of_the_picture_is_asked_for_in_millimetres(ricalco: Ricalco, service: Any) -> None:
    service.answer(PNG)
    part = {"left": 10, "top": 20.5, "width": 60, "height": 60}
    ricalco.previews.fetch("ref_1", SPEC, part_mm=part)
    assert json.loads(service.bodies[0])["part_mm"] == part


@pytest.mark.parametrize(
    ("body", "headers"),
    [(b"<html>", {}), (PNG, {"Ricalco_Thresholds": "dark, light"})],
)
def test_a_strangers_answer_is_told_of(
    ricalco: Ricalco, service: Any, body: bytes, headers: dict[str, str]
) -> None:
    service.answer(body, **headers)
    with pytest.raises(AnswerUnreadable):
        ricalco.previews.fetch("ref_1", SPEC)


def test_a_refusal_has_its_family(ricalco: Ricalco, service: Any) -> None:
    problem = {"code": "crop-outside", "detail": "Outside.", "field": "crop"}
    service.answer(problem, 422, Content_Type="application/problem+json")
    with pytest.raises(SpecRefused):
        ricalco.previews.fetch("ref_1", SPEC)
