"""Many machines: workers on a real Redis, with a real PostgreSQL and files in a bucket.

Each has a data folder of its own, as machines have that share nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.servers.buckets import BucketServer, bucket_server
from tests.waiting import wait_until
from worker.settings import Settings

StartWorker = Callable[..., Any]


@pytest.fixture(scope="module")
def buckets() -> Iterator[BucketServer]:
    with bucket_server() as server:
        yield server


@pytest.fixture
def settings(
    settings: Settings, redis_server: Any, postgresql: Any, buckets: BucketServer
) -> Settings:
    return replace(
        settings,
        broker_url=redis_server.url,
        database_url=postgresql.new_database(),
        storage_url=buckets.fresh_url(),
    )


@pytest.mark.usefixtures("real_reference")
def test_packs_outlive_kill_9_of_a_worker_and_a_ledger_that_breaks_off(
    settings: Settings, desk: Any, start_worker: StartWorker, postgresql: Any, tmp_path: Path
) -> None:
    first, second = (
        start_worker(replace(settings, workers=1, data_dir=tmp_path / name))
        for name in ("first", "second")
    )
    desk.ask(12, support={"width_mm": 400, "height_mm": 300})
    wait_until(lambda: desk.count("ready") >= 2)
    first.kill()
    postgresql.stop()
    postgresql.start()
    desk.wait_ended()
    assert desk.count("ready") == 12
    assert second.process.poll() is None
    desk.check()


def test_without_a_broker_the_ledger_itself_wakes_the_worker(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    alone = replace(settings, broker_url="")
    desk.settings = alone
    start_worker(alone, fake=True)
    desk.ask(3)
    desk.wait_ended()
    assert desk.count("ready") == 3
    desk.check()
