"""Fetching the grid alone, against a service without a socket."""

from __future__ import annotations

import json
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import AnswerUnreadable

SPEC = {"support": {"width_mm": 600, "height_mm": 400}, "grid": {"square_mm": 50}}


def test_pages_and_picture_are_asked_for(ricalco: Ricalco, service: Any) -> None:
    service.answer(b"%PDF-1.7 rest")
    assert ricalco.grids.pages("ref_1", SPEC, title="Quinces").startswith(b"%PDF")
    service.answer(b"\xff\xd8\xff rest")
    assert ricalco.grids.picture("ref_1", SPEC).startswith(b"\xff\xd8\xff")
    asked = [(sent.method, sent.url) for sent in service.asked]
    assert asked == [
        ("POST", "http://ricalco.test/v1/grids"),
        ("POST", "http://ricalco.test/v1/grids/picture"),
    ]
    assert json.loads(service.bodies[0])["title"] == "Quinces"


def test_a_strangers_answer_is_told_of(ricalco: Ricalco, service: Any) -> None:
    service.answer(b"<html>")
    with pytest.raises(AnswerUnreadable):
        ricalco.grids.pages("ref_1", SPEC)
