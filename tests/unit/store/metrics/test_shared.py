"""Counts hold over several processes, and when processes are killed."""

from __future__ import annotations

import errno
import os
import signal
import sys
import time
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families

from tests.waiting import wait_until
from worker.store.metrics.counts import Counts
from worker.store.metrics.exposition import page
from worker.store.metrics.families import (
    EVENT_STREAMS,
    FAILURES,
    LEDGER_FAMILIES,
    MADE,
    MAKE_SECONDS,
    PACKS,
    REQUESTS,
)
from worker.store.metrics.shared import read_all

_FORKS = pytest.mark.skipif(sys.platform != "linux", reason="pools of processes are Linux's")


def test_several_processes_are_added_up(tmp_path: Path) -> None:
    one, other = Counts(tmp_path), Counts(tmp_path)
    for counts in (one, other, other):
        counts.add(FAILURES, "too-slow")
        counts.observe(MAKE_SECONDS, seconds=2.0)
    with one.held(EVENT_STREAMS), other.held(EVENT_STREAMS):
        found = read_all(tmp_path)
    assert found["ricalco_pack_failures", ("too-slow",)] == [3.0]
    assert found["ricalco_event_streams", ()] == [2.0]
    assert found["ricalco_make_seconds", ()][-1] == 6.0


def test_what_an_ended_process_counted_stays_once(tmp_path: Path) -> None:
    one, other = Counts(tmp_path), Counts(tmp_path)
    for counts in (one, other):
        counts.add(MADE)
        counts.add(EVENT_STREAMS)
    one.close()
    for _ in range(3):
        found = read_all(tmp_path)
        assert found["ricalco_packs_made", ()] == [2.0]
        # Its streams have ended with it.
        assert found["ricalco_event_streams", ()] == [1.0]
    assert len(list(tmp_path.glob("*.counts"))) == 1


def test_a_reader_killed_before_it_deletes_counts_nothing_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ended = Counts(tmp_path)
    ended.add(MADE)
    ended.close()
    with monkeypatch.context() as patched:
        patched.setattr(Path, "unlink", lambda *_args, **_how: None)
        read_all(tmp_path)
    assert len(list(tmp_path.glob("*.counts"))) == 1
    assert read_all(tmp_path)["ricalco_packs_made", ()] == [1.0]
    assert read_all(tmp_path)["ricalco_packs_made", ()] == [1.0]
    assert not list(tmp_path.glob("*.counts"))


@_FORKS
def test_a_killed_child_has_lost_nothing(tmp_path: Path) -> None:
    parent = Counts(tmp_path)
    parent.add(MADE, by=10.0)
    child = os.fork()
    if not child:
        parent.add(MADE)
        parent.add(MADE)
        (tmp_path / "done").touch()
        time.sleep(60)
        os._exit(0)
    wait_until((tmp_path / "done").exists)
    assert read_all(tmp_path)["ricalco_packs_made", ()] == [12.0]
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    parent.add(MADE)
    assert read_all(tmp_path)["ricalco_packs_made", ()] == [13.0]
    parent.close()


def test_a_full_disk_stops_no_counting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    counts = Counts(tmp_path)

    def full(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "pwrite", full)
        counts.add(MADE)
    assert ("ricalco_packs_made", ()) not in read_all(tmp_path)
    counts.add(MADE)
    assert read_all(tmp_path)["ricalco_packs_made", ()] == [2.0]


def test_the_page_is_read_by_prometheus_own_parser() -> None:
    counts = Counts()
    counts.add(REQUESTS, "GET", '/v1/packs/<pack_id:pack_id>"\\', "200", by=12_345_678)
    counts.observe(MAKE_SECONDS, seconds=0.3)
    more = {family: dict[str, float]() for family in LEDGER_FAMILIES} | {PACKS: {"queued": 3.0}}
    text = page(counts.numbers(), more).decode()
    families = {one.name: one for one in text_string_to_metric_families(text)}
    (requests,) = families["ricalco_requests"].samples
    assert (requests.name, requests.value) == ("ricalco_requests_total", 12_345_678)
    assert requests.labels["route"] == '/v1/packs/<pack_id:pack_id>"\\'
    assert families["ricalco_packs"].samples[0].labels == {"state": "queued"}
    buckets = {
        one.labels["le"]: one.value
        for one in families["ricalco_make_seconds"].samples
        if one.name.endswith("_bucket")
    }
    assert (buckets["0.25"], buckets["0.5"], buckets["+Inf"]) == (0.0, 1.0, 1.0)
