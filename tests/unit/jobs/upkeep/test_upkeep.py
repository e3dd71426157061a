"""Upkeep goes on: no row, file or process keeps it from what is left."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.unit.jobs.conftest import Time, ask, publish
from worker.errors import FolderNotWritable
from worker.jobs import lease_holders
from worker.jobs.lease_holders import dead_holders, holder_name, is_alive, process_name
from worker.jobs.upkeep.sweeper import (
    EXPIRE_EVERY_S,
    LAPSE_GRACE_S,
    ORPHANS_EVERY_S,
    SWEEP_S,
    Sweeper,
    WorkerResources,
)
from worker.store.ledger import LOCAL_OWNER, NewPack, ReferenceRow

linux = pytest.mark.skipif(sys.platform != "linux", reason="only there makers are processes")


@pytest.fixture
def child() -> Iterator[subprocess.Popen[bytes]]:
    """A process that lives until its input ends."""
    command = [sys.executable, "-c", "import sys; sys.stdin.read()"]
    with subprocess.Popen(command, stdin=subprocess.PIPE) as process:
        yield process


@linux
def test_a_process_is_known_by_more_than_its_number(child: subprocess.Popen[bytes]) -> None:
    name = str(process_name(child.pid))
    number, start = name.split("-")
    assert number == str(child.pid)
    assert is_alive(name)
    # Later, a process of somebody else's with the same number, or nonsense.
    for other in (f"{number}-{int(start) + 1}", number, "", "-", "x-1"):
        assert not is_alive(other)
    child.communicate()
    assert not is_alive(name)


@linux
def test_a_process_that_only_waits_to_be_noticed_has_ended() -> None:
    with subprocess.Popen(["/bin/true"]) as process:
        os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)
        assert process_name(process.pid) is None


@linux
def test_a_process_of_another_user_with_its_number_is_no_maker() -> None:
    """A maker died and its number was given out again: asking kill(2) says EPERM."""
    if os.geteuid() != 0:
        pytest.skip("only root may start a process as somebody else")
    with subprocess.Popen(["/bin/cat"], stdin=subprocess.PIPE, user=65534) as process:
        dead = f"me/{process.pid}-1"
        assert dead_holders("me", {dead, holder_name("me")}) == {dead}


@pytest.mark.parametrize(
    ("error", "alive"), [(None, True), (ProcessLookupError, False), (PermissionError, False)]
)
def test_where_no_start_is_told_the_number_counts(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, error: type[OSError] | None, *, alive: bool
) -> None:
    def kill(_process: int, _signal: int) -> None:
        if error is not None:
            raise error

    monkeypatch.setattr(lease_holders, "_TABLE", tmp_path)
    monkeypatch.setattr(os, "kill", kill)
    assert is_alive("4711") is alive
    assert is_alive(str(os.getpid()))
    assert process_name(os.getpid()) == str(os.getpid())


@linux
def test_only_this_workers_dead_processes_are_known_dead(child: subprocess.Popen[bytes]) -> None:
    name = process_name(child.pid)
    holders = {holder_name("me"), f"me/{name}", f"other/{name}"}
    assert dead_holders("me", holders) == set()
    child.communicate()
    assert dead_holders("me", holders) == {f"me/{name}"}


STEPS = {
    "tidy": "storage",
    "lease_holders": "ledger",
    "lapsed_leases": "ledger",
    "waiting": "ledger",
    "forget_expired_keys": "ledger",
    "expire": "ledger",
    "known_references": "ledger",
}


@pytest.mark.parametrize("fails", STEPS)
def test_no_step_keeps_the_others(
    monkeypatch: pytest.MonkeyPatch,
    resources: WorkerResources,
    clocks: Time,
    fails: str,
) -> None:
    """Whichever step fails: leases, time that is over and orphans are seen to all the same.

    It fails each time, with an error of ours and one that is not in turns.
    """
    errors = itertools.cycle([FolderNotWritable("no"), PermissionError(1, "no")])

    def fail(*_arguments: object, **_named: object) -> Any:
        raise next(errors)

    ledger, storage = resources.ledger, resources.storage
    lost, _waits = ask(ledger, 2)
    ledger.claim("gone/1")
    over = ReferenceRow(
        width_px=4, height_px=3, format="jpeg", sha256="0" * 64, delete_after=clocks.time()
    )
    ledger.add_reference(over)
    publish(storage, over.files_key)
    publish(storage, "packs/pck_nobodys/a")
    monkeypatch.setattr({"ledger": ledger, "storage": storage}[STEPS[fails]], fails, fail)
    sweeper = Sweeper(resources, now=clocks.monotonic)
    for _ in range(round((ledger.lease_s + LAPSE_GRACE_S) / SWEEP_S) + 2):
        clocks.passes(SWEEP_S)
        sweeper.sweep()
    clocks.passes(ORPHANS_EVERY_S)
    sweeper.sweep()
    seen_to = {
        "lapsed_leases": ledger.pack(lost, LOCAL_OWNER).state == "queued",
        "expire": not list(storage.keys("references")),
        "packs": not list(storage.keys("packs")),
        "waiting": sum(resources.wakeups.sent) > 0,  # type: ignore[attr-defined]  # RecordingSender
    }
    assert [name for name, done in seen_to.items() if not done and name != fails] == []


def test_files_that_cannot_be_deleted_keep_no_others(
    monkeypatch: pytest.MonkeyPatch,
    resources: WorkerResources,
    clocks: Time,
    caplog: pytest.LogCaptureFixture,
) -> None:
    delete = resources.storage.delete

    def refuse(key: str) -> None:
        if "stuck" in key:
            raise FolderNotWritable("no")
        delete(key)

    # What others put there: a key must not have such letters (`worker.store.files.protocol`).
    root = resources.settings.data_dir / "files"
    for name in ("packs/.DS_Store", "packs/a b", "references/a b"):
        (root / name).mkdir(parents=True)
        (root / name / "x").touch()
    monkeypatch.setattr("worker.jobs.upkeep.cleanup.REFERENCE_AGE_S", -1.0)
    monkeypatch.setattr(resources.storage, "delete", refuse)
    rows = [
        ReferenceRow(
            id=f"ref_{name}",
            width_px=4,
            height_px=3,
            format="jpeg",
            sha256="0" * 64,
            delete_after=clocks.time(),
        )
        for name in ("a", "stuck", "z")
    ]
    for row in rows:
        resources.ledger.add_reference(row)
        publish(resources.storage, row.files_key)
    for key in ("packs/a/b", "packs/stuck/b", "packs/z/b"):
        publish(resources.storage, key)
    sweeper = Sweeper(resources, now=clocks.monotonic)
    clocks.passes(max(EXPIRE_EVERY_S, ORPHANS_EVERY_S) + 1)
    sweeper.sweep()
    left = {key for prefix in ("packs", "references") for key in resources.storage.keys(prefix)}
    assert left == {
        "packs/.DS_Store",
        "packs/a b",
        "packs/stuck",
        "references/a b",
        "references/ref_stuck",
    }
    assert "packs/stuck/b cannot be deleted now" in caplog.text
    monkeypatch.setattr(resources.storage, "delete", delete)
    clocks.passes(ORPHANS_EVERY_S + 1)
    sweeper.sweep()
    assert "references/ref_stuck" not in set(resources.storage.keys("references"))


def test_a_folder_nobody_may_look_into_keeps_no_others(
    monkeypatch: pytest.MonkeyPatch, resources: WorkerResources, clocks: Time
) -> None:
    """Root may look everywhere, so that the refusal is put there."""
    look = Path.iterdir

    def refuse(path: Path) -> Iterator[Path]:
        if path.name == "closed":
            raise PermissionError(13, "Permission denied")
        return look(path)

    for key in ("packs/a/b", "packs/closed/b", "packs/z/b"):
        publish(resources.storage, key)
    monkeypatch.setattr(Path, "iterdir", refuse)
    clocks.passes(ORPHANS_EVERY_S + 1)
    Sweeper(resources, now=clocks.monotonic)._remove_orphans()
    clocks.passes(ORPHANS_EVERY_S + 1)
    sweeper = Sweeper(resources, now=clocks.monotonic)
    clocks.passes(ORPHANS_EVERY_S + 1)
    sweeper.sweep()
    assert list(resources.storage.keys("packs")) == ["packs/closed"]


def test_a_pack_that_is_asked_for_again_is_not_lost_with_a_row_that_fails(
    resources: WorkerResources, clocks: Time
) -> None:
    """A whole retention run with one row that another table holds."""
    ledger = resources.ledger
    rows = [
        ReferenceRow(
            width_px=4, height_px=3, format="jpeg", sha256="0" * 64, delete_after=clocks.time()
        )
        for _ in range(3)
    ]
    for row in rows:
        ledger.add_reference(row)
        ledger.enqueue(NewPack(reference_id=row.id, spec={}))
    with ledger._database.writing() as connection:
        connection.exec_driver_sql(
            f"CREATE TRIGGER stuck BEFORE DELETE ON photos WHEN OLD.id = '{rows[0].id}'"
            " BEGIN SELECT RAISE(ABORT, 'stuck'); END"
        )
    sweeper = Sweeper(resources, now=clocks.monotonic)
    clocks.passes(EXPIRE_EVERY_S + 1)
    sweeper.sweep()
    assert ledger.known_references([row.id for row in rows]) == {rows[0].id}
    assert ledger.references_of(rows[0].sha256, LOCAL_OWNER) == [
        replace(rows[0], created_at=clocks.time() - EXPIRE_EVERY_S - 1)
    ]
