"""A ledger that the first version filled comes over whole, and goes on working."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command

from worker.store.ledger import LOCAL_OWNER, HeldKey, Ledger, NewPack, Replay
from worker.store.ledger.database.database import Database
from worker.store.ledger.migrations.migrate import alembic_config

SPEC = {"support": {"width_mm": 600, "height_mm": 400}}
STATES = ("ready", "queued", "making", "failed", "cancelled")
#: Columns of the first version, in the words of its migration.
PHOTO = "insert into photos values (?, 'local', 4000, 3000, 'jpeg', ?, 1000.0)"
PACK = (
    "insert into packs (id, owner_id, reference_id, title, spec, plan, state, done, total, step,"
    " attempt, lease_token, lease_until, lease_holder, cancel_requested, virtual_time,"
    " not_before, created_at, files_key) values (?, 'local', 'ref_old', ?, ?, ?, ?, 0, 6, '', 1,"
    " ?, ?, ?, 0, ?, 0, 1000.0, ?)"
)
KEY = "insert into idempotency_keys values ('local', 'old', 'print', 'token', 202, '{}', 9e9)"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A ledger at step 0001, with something in every state."""
    place = tmp_path / "ledger.db"
    database = Database(f"sqlite:///{place.as_posix()}")
    config = alembic_config()
    with database.writing() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    database.close()
    with closing(sqlite3.connect(place)) as old, old:
        old.execute(PHOTO, ("ref_old", "0" * 64))
        for number, state in enumerate(STATES):
            held = ("token", 2000.0, "host/1") if state == "making" else (None, None, None)
            files = f"packs/pck_{state}/try" if state == "ready" else None
            title = f"Krug № {number}"
            words = (f"pck_{state}", title, json.dumps(SPEC), "{}", state)
            old.execute(PACK, (*words, *held, 1.7e9 + number, files))
        old.execute(KEY)
        old.execute("update owners set virtual_time = 1.7e9 + 9")
    return place


@pytest.fixture
def url(path: Path) -> str:
    """The same as a URL."""
    return f"sqlite:///{path.as_posix()}"


def test_nothing_is_lost_and_nothing_is_promised_anew(url: str, path: Path) -> None:
    with closing(Ledger.open(url, clock=lambda: 3000.0)) as ledger:
        ledger.migrate()
        photo = ledger.reference("ref_old", LOCAL_OWNER)
        # What was kept until its owner deleted it still is.
        assert (photo.width_px, photo.delete_after) == (4000, None)
        for number, state in enumerate(STATES):
            pack = ledger.pack(f"pck_{state}", LOCAL_OWNER)
            assert (pack.state, pack.title, pack.spec) == (state, f"Krug № {number}", SPEC)
            assert (pack.delete_after, pack.printed_at, pack.payer_id) == (None, None, None)
        assert ledger.people.person(LOCAL_OWNER).role == "local"
        assert not ledger.people.tutor_exists()
        assert ledger.begin(LOCAL_OWNER, "old", "print") == Replay(202, "{}")
        assert ledger.expire() == ()
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("pragma integrity_check").fetchall() == [("ok",)]
        assert database.execute("pragma foreign_key_check").fetchall() == []


def test_what_was_under_way_is_made(url: str) -> None:
    with closing(Ledger.open(url, clock=lambda: 3000.0)) as ledger:
        ledger.migrate()
        assert ledger.free_lapsed().requeued == ("pck_making",)
        new = ledger.enqueue(NewPack(reference_id="ref_old", spec=SPEC))
        order = [claim.pack.id for _ in range(3) if (claim := ledger.claim("w"))]
        assert order == ["pck_queued", "pck_making", new.id]


def test_the_first_tutor_takes_it_all_over_and_a_class_can_begin(url: str) -> None:
    with closing(Ledger.open(url, clock=lambda: 3000.0)) as ledger:
        ledger.migrate()
        tutor, _ = ledger.people.add_tutor("Ada")
        assert ledger.pack("pck_ready", tutor.id).owner_id == tutor.id
        assert ledger.reference("ref_old", tutor.id).owner_id == tutor.id
        assert ledger.begin(tutor.id, "old", "print") == Replay(202, "{}")
        assert isinstance(ledger.begin(LOCAL_OWNER, "old", "print"), HeldKey)
        keys = ledger.people.erase(tutor.id)
        assert "references/ref_old" in keys
        assert {f"packs/pck_{state}" for state in STATES} <= set(keys)
