"""Tutors are made at the machine; a lesson is opened only when there is one."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from client.command import main as command
from worker.ledger import Ledger, Person, open_ledger
from worker.settings import Settings


@pytest.fixture
def data_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of its own; the command writes its settings into the environment."""
    for name in Settings(data_dir=tmp_path).to_env():
        monkeypatch.setenv(name, "")
    monkeypatch.setenv("RICALCO_DATA_DIR", str(tmp_path))
    return tmp_path


def whose(data_dir: Path, key: str) -> Person | None:
    """Who the ledger says has this key."""
    with closing(open_ledger(Settings(data_dir=data_dir))) as ledger:
        return ledger.people.with_key(key)


def key_of(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The key that the command prints on standard output, and nothing else there."""
    assert command.run(words) == 0
    (key,) = capsys.readouterr().out.split()
    return key


def test_a_tutor_is_made_and_their_key_printed_once(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = key_of(["tutor", " Ada  Färber "], capsys)
    tutor = whose(data_dir, key)
    assert tutor is not None
    assert (tutor.role, tutor.name) == ("tutor", "Ada Färber")
    assert key.encode() not in b"".join(path.read_bytes() for path in data_dir.glob("ledger.db*"))


def test_a_name_is_a_tutor_once_and_a_lost_key_is_replaced(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = key_of(["tutor", "Ada"], capsys)
    assert command.run(["tutor", "ADA"]) == 2
    assert "--new-key" in capsys.readouterr().err
    second = key_of(["tutor", "--new-key", "ada"], capsys)
    assert whose(data_dir, first) is None
    assert whose(data_dir, second) is not None
    assert command.run(["tutor", "--new-key", "Ben"]) == 2
    assert command.run(["tutor", "  "]) == 2


def test_a_lesson_is_not_opened_without_a_tutor(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command.run(["open"]) == 2
    assert "ricalco tutor NAME" in capsys.readouterr().err
    with closing(Ledger.open(Settings(data_dir=data_dir).ledger_url)) as ledger:
        assert not ledger.people.tutor_exists()


def test_opening_says_what_it_means_and_where_it_is(
    data_dir: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    key_of(["tutor", "Ada"], capsys)
    started: list[Settings] = []
    monkeypatch.setattr("service.supervisor.supervise", started.append)
    monkeypatch.setattr("service.supervisor.lan_address", lambda: "192.0.2.7")
    with pytest.raises(SystemExit):
        command.run(["open", "--port", "8777"])
    said = capsys.readouterr().out
    assert "every device on this network" in said
    assert "not encrypted" in said
    assert "http://192.0.2.7:8777" in said
    assert started[0].host == "0.0.0.0"  # noqa: S104
    assert started[0].page_dir is not None
    assert data_dir == started[0].data_dir
