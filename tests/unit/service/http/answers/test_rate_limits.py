"""The fields of draft-ietf-httpapi-ratelimit-headers-11, read back as RFC 9651 says."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from service.app import create_app
from service.runtime.context import EXTENSION
from service.runtime.limits.failed_attempts import BURST, FREE, REMEMBERED_S, FailedAttempts
from service.runtime.limits.tallies import MemoryTallies
from tests.clock import Clock
from worker.settings import Settings

#: A List of Strings with integer parameters, as these fields are (RFC 9651, 4.2).
MEMBER = re.compile(r'"([a-z-]+)"((?:;[a-z]+=\d{1,15})+)')


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def app(tmp_path: Path, clock: Clock) -> Iterator[Flask]:
    made = create_app(Settings(data_dir=tmp_path))
    context = made.extensions[EXTENSION]
    object.__setattr__(context, "failed_attempts", FailedAttempts(MemoryTallies(clock)))
    yield made
    context.ledger.close()


def members(field: str) -> dict[str, dict[str, int]]:
    """The policies of a field with their parameters."""
    found = {}
    for part in field.split(", "):
        member = MEMBER.fullmatch(part)
        assert member is not None, part
        pairs = (one.split("=") for one in member[2].strip(";").split(";"))
        found[member[1]] = {name: int(value) for name, value in pairs}
    return found


def left(answer: TestResponse) -> dict[str, int]:
    """What is left of this device's limit."""
    return members(answer.headers["RateLimit"])["wrong-codes-of-device"]


def test_what_is_left_is_told_before_it_is_used_up(app: Flask, clock: Clock) -> None:
    browser = app.test_client()
    for number in range(FREE):
        answer = browser.get(f"/v1/join?code=ZZZZ-000{number}")
        assert answer.status_code == 404
        policy = members(answer.headers["RateLimit-Policy"])
        assert policy["wrong-codes-of-device"] == {"q": FREE, "w": round(REMEMBERED_S)}
        assert policy["wrong-codes"]["q"] == BURST
        assert left(answer)["r"] == max(1, FREE - number - 1)
        assert members(answer.headers["RateLimit"])["wrong-codes"]["r"] == BURST - number - 1
    assert browser.get("/v1/join?code=ZZZZ-0009").status_code == 404
    answer = browser.get("/v1/join?code=ZZZZ-000A")
    assert answer.status_code == 429
    # The draft: where both are there, Retry-After and `t` do not contradict each other.
    assert left(answer) == {"r": 0, "t": int(answer.headers["Retry-After"])}
    clock.now += REMEMBERED_S + 1
    assert left(browser.get("/v1/join?code=ZZZZ-000B"))["r"] == FREE - 1


def test_another_device_has_its_own(app: Flask) -> None:
    one, other = app.test_client(), app.test_client()
    for number in range(FREE + 2):
        one.get(f"/v1/join?code=ZZZZ-000{number}")
    assert left(other.get("/v1/join?code=ZZZZ-0000"))["r"] > 0


def test_a_route_without_a_limit_tells_none(app: Flask) -> None:
    assert "RateLimit" not in app.test_client().get("/healthz").headers
