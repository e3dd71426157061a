"""A worker's figures: its own packs, and open only to whoever has the key."""

from __future__ import annotations

import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.servers.ports import free_port
from worker.jobs.metrics_endpoint import MetricsServer, show_metrics
from worker.settings import Settings
from worker.store.metrics.counts import Counts
from worker.store.metrics.families import STEP_SECONDS

KEY = "k" * 32


@pytest.fixture
def server(tmp_path: Path) -> Iterator[MetricsServer]:
    address = f"127.0.0.1:{free_port()}"
    settings = Settings(data_dir=tmp_path, metrics_address=address, metrics_key=KEY)
    counts = Counts(settings.metrics_folder)
    counts.observe(STEP_SECONDS, "drawing", seconds=0.2)
    shown = show_metrics(settings)
    assert shown is not None
    yield shown
    shown.shutdown()
    shown.server_close()


def ask(server: MetricsServer, path: str, key: str) -> tuple[int, str]:
    """Status and body."""
    url = f"http://127.0.0.1:{server.server_port}{path}"
    request = urllib.request.Request(url, headers={"Authorization": f"Bearer {key}"})
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, ""


def test_it_tells_with_the_key_alone(server: MetricsServer) -> None:
    status, page = ask(server, "/metrics", KEY)
    assert status == 200
    assert 'ricalco_make_step_seconds_sum{step="drawing"} 0.2' in page
    assert ask(server, "/metrics", "wrong")[0] == 401
    assert ask(server, "/", KEY)[0] == 404


def test_an_address_that_is_taken_stops_no_worker(server: MetricsServer, tmp_path: Path) -> None:
    taken = Settings(data_dir=tmp_path, metrics_address=f"127.0.0.1:{server.server_port}")
    assert show_metrics(taken) is None
