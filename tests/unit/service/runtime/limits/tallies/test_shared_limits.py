"""Limits hold over several web processes: two applications over one store."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from service.app import create_app
from service.http.errors import TooManySessions
from service.runtime.context import EXTENSION, ServiceContext
from service.runtime.limits.failed_attempts import FREE
from service.runtime.limits.session_rate import BURST_EACH
from worker.settings import Settings


@pytest.fixture
def apps(tmp_path: Path) -> Iterator[tuple[Flask, Flask]]:
    made = create_app(Settings(data_dir=tmp_path)), create_app(Settings(data_dir=tmp_path))
    yield made
    for app in made:
        app.extensions[EXTENSION].ledger.close()


def test_wrong_codes_are_counted_by_all_together(apps: tuple[Flask, Flask]) -> None:
    """Each process would let a device try five of its own, and then five more."""
    clients = [app.test_client() for app in apps]
    statuses = []
    for number in range(FREE + 2):
        answer = clients[number % 2].get(f"/v1/join?code=0000000{number}")
        statuses.append(answer.status_code)
        if cookie := clients[number % 2].get_cookie("ricalco_device"):
            clients[(number + 1) % 2].set_cookie(cookie.key, cookie.value)
    assert statuses == [404] * (FREE + 1) + [429]


def test_sessions_are_counted_by_all_together(apps: tuple[Flask, Flask]) -> None:
    contexts: list[ServiceContext] = [app.extensions[EXTENSION] for app in apps]
    for number in range(BURST_EACH):
        contexts[number % 2].session_rate.take_for("stu_a", "sit_a")
    for context in contexts:
        with pytest.raises(TooManySessions):
            context.session_rate.take_for("stu_a", "sit_a")
