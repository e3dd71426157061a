"""The page of figures: what it tells, to whom, and that every web process tells the same."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from prometheus_client.parser import text_string_to_metric_families

from service.app import create_app
from service.runtime.context import EXTENSION
from worker.settings import Settings
from worker.store.ledger import NewPack, ReferenceRow
from worker.store.metrics.families import FAMILIES, LEDGER_FAMILIES

KEY = "k" * 32
BEARER = {"Authorization": f"Bearer {KEY}"}


@pytest.fixture(scope="module")
def apps(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Flask, Flask]]:
    """Two web processes of one service, as far as their counts go; one pack waits."""
    folder = tmp_path_factory.mktemp("data")
    made = tuple(create_app(Settings(data_dir=folder, metrics_key=KEY)) for _ in range(2))
    ledger = made[0].extensions[EXTENSION].ledger
    row = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
    ledger.enqueue(NewPack(reference_id=ledger.add_reference(row).id, spec={}))
    yield made[0], made[1]
    for app in made:
        app.extensions[EXTENSION].ledger.close()


def figures(app: Flask) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Samples of the page by name and labels."""
    answer = app.test_client().get("/metrics")
    assert answer.status_code == 200
    assert answer.content_type == "text/plain; version=0.0.4; charset=utf-8"
    return {
        (one.name, tuple(sorted(one.labels.items()))): one.value
        for family in text_string_to_metric_families(answer.text)
        for one in family.samples
    }


def test_every_process_tells_what_all_have_counted(apps: tuple[Flask, Flask]) -> None:
    for app in apps:
        app.test_client().get("/v1/packs/pck_0000000000000000000000")
    labels = (("method", "GET"), ("route", "/v1/packs/<pack_id:pack_id>"))
    for app in apps:
        told = figures(app)
        assert told["ricalco_requests_total", (*labels, ("status", "404"))] == 2
        assert told["ricalco_request_seconds_count", labels] == 2
        assert told["ricalco_problems_total", (("code", "not-found"),)] == 2
        assert told["ricalco_packs", (("state", "queued"),)] == 1
        assert told["ricalco_oldest_pack_seconds", (("state", "queued"),)] > 0


def test_no_label_has_an_id_or_a_name(apps: tuple[Flask, Flask]) -> None:
    apps[0].test_client().get("/v1/packs/pck_0000000000000000000000")
    apps[0].test_client().open("/elsewhere/Anna", method="ODD")
    page = apps[0].test_client().get("/metrics").text
    assert "pck_" not in page
    assert "Anna" not in page
    assert "ODD" not in page
    allowed = {"code", "kind", "method", "route", "state", "status", "step"}
    assert {label for one in (*FAMILIES, *LEDGER_FAMILIES) for label in one.labels} <= allowed


def test_a_prometheus_comes_in_with_its_key_and_nobody_else(apps: tuple[Flask, Flask]) -> None:
    client = apps[0].test_client()
    context = apps[0].extensions[EXTENSION]
    context.ledger.people.add_tutor("Tutor")
    assert client.get("/metrics").status_code == 401
    assert client.get("/metrics", headers={"Authorization": "Bearer wrong"}).status_code == 401
    assert client.get("/metrics", headers=BEARER).status_code == 200
    assert client.get("/v1/me", headers=BEARER).status_code == 401


def test_without_a_key_none_opens_it(tmp_path: Path) -> None:
    app = create_app(Settings(data_dir=tmp_path))
    app.extensions[EXTENSION].ledger.people.add_tutor("Tutor")
    for sent in ("", "Bearer ", "Bearer"):
        answer = app.test_client().get("/metrics", headers={"Authorization": sent})
        assert answer.status_code == 401
    app.extensions[EXTENSION].ledger.close()
