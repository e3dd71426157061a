"""A ledger whose bytes were overwritten says so, and what can be done."""

from __future__ import annotations

import logging
from pathlib import Path

import pytest

from client.command.machine import probes
from service.app import create_app
from service.runtime.context import EXTENSION
from tests.migrated import migrated
from tests.unit.store.ledger.conftest import Asker
from worker.errors import LedgerDamaged
from worker.settings import Settings
from worker.store.ledger import Ledger
from worker.store.ledger.disk import integrity

PAGE = 4096


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A closed ledger with a hundred packs; its log is in it."""
    file = tmp_path_factory.mktemp("sound") / "ledger.db"
    ledger = Ledger.open(f"sqlite:///{file.as_posix()}")
    migrated(ledger)
    asker = Asker(ledger)
    for _ in range(100):
        asker.ask()
    ledger.close()
    assert integrity.find_damage(file) == ""
    return file.read_bytes()


@pytest.fixture
def file(sound: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("RICALCO_DATA_DIR", str(tmp_path))
    (tmp_path / "ledger.db").write_bytes(sound)
    return tmp_path / "ledger.db"


def overwrite(file: Path, first: int, pages: int) -> None:
    """What a failing disk or a careless program does."""
    with file.open("r+b") as opened:
        opened.seek(first * PAGE)
        opened.write(b"\xa5" * PAGE * pages)


def overwrite_packs(file: Path) -> None:
    """A page of packs, by their titles."""
    content = file.read_bytes()
    overwrite(file, content.rindex(b"Stillleben") // PAGE, 1)


def found(what: str) -> probes.Finding:
    return next(finding for finding in probes.all_findings(None) if finding.what == what)


def test_a_start_says_so_and_goes_on(file: Path, caplog: pytest.LogCaptureFixture) -> None:
    overwrite_packs(file)
    with caplog.at_level(logging.CRITICAL):
        app = create_app(Settings(data_dir=file.parent))
    assert [record.message for record in caplog.records] == ["The ledger is damaged."]
    assert ".recover" in caplog.records[0].facts["detail"]  # type: ignore[attr-defined]
    answer = app.test_client().get("/readyz")
    assert (answer.status_code, answer.json["checks"]["ledger"]) == (503, "ledger-damaged")
    app.extensions[EXTENSION].ledger.close()


def test_check_says_so_with_what_to_do(file: Path) -> None:
    assert found("ledger's content") == probes.Finding(
        "ledger's content", "sound", good=True, mend=integrity.repair_advice(file)
    )
    overwrite_packs(file)
    finding = found("ledger's content")
    assert not finding.good
    assert "copy" in finding.mend
    assert ".recover" in finding.mend


@pytest.mark.parametrize("first", [0, 1])
def test_one_that_cannot_be_read_is_refused_in_a_sentence(file: Path, first: int) -> None:
    """Its first page, and the table of tables: nothing is to be had without them."""
    overwrite(file, first, 3)
    with pytest.raises(LedgerDamaged, match="keep a copy"):
        create_app(Settings(data_dir=file.parent))


def test_damage_that_is_met_later_is_told_as_such(file: Path) -> None:
    ledger = Ledger.open(f"sqlite:///{file.as_posix()}")
    ledger.check()
    overwrite(file, 2, file.stat().st_size // PAGE - 2)
    with pytest.raises(LedgerDamaged):
        ledger.gauges()
    ledger.close()


def test_a_start_does_not_read_a_huge_ledger(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    overwrite_packs(file)
    monkeypatch.setattr(integrity, "START_BYTES", PAGE)
    assert integrity.find_damage(file) == ""
    assert integrity.find_damage(file, whole=True)
    assert integrity.find_damage(file.with_name("none.db")) == ""
