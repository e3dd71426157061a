"""Tutors are made at the machine; a lesson is opened only when there is one."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import pytest

from client.command import main as command
from worker.settings import Settings
from worker.store.ledger import Ledger, Person, open_ledger


@pytest.fixture
def data_dir(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty data folder; the command writes its settings to the environment."""
    for name in Settings(data_dir=tmp_path).to_env():
        monkeypatch.setenv(name, "")
    monkeypatch.setenv("RICALCO_DATA_DIR", str(tmp_path))
    return tmp_path


def person_with(data_dir: Path, key: str) -> Person | None:
    """The person in the ledger who has this key."""
    with closing(open_ledger(Settings(data_dir=data_dir))) as ledger:
        opened = ledger.people.opened_by(key)
        return opened and opened[0]


def key_of(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """The key, which is all that the command prints on standard output."""
    assert command.run(words) == 0
    (key,) = capsys.readouterr().out.split()
    return key


def test_a_tutor_is_made_and_their_key_printed_once(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = key_of(["tutor", " Ada  Färber "], capsys)
    tutor = person_with(data_dir, key)
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
    assert person_with(data_dir, first) is None
    assert person_with(data_dir, second) is not None
    assert command.run(["tutor", "--new-key", "Ben"]) == 2
    assert command.run(["tutor", "  "]) == 2


@pytest.fixture
def in_network(monkeypatch: pytest.MonkeyPatch) -> str:
    """The address of this machine on the local network (an example of RFC 5737)."""
    for module in ("supervisor.supervise", "http.requests.lan_addresses"):
        monkeypatch.setattr(f"service.{module}.lan_address", lambda: "192.0.2.7")
    return "192.0.2.7"


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[Settings]:
    """The settings of each service that the command would start."""
    found: list[Settings] = []
    monkeypatch.setattr("service.supervisor.supervise.supervise", found.append)
    return found


@pytest.mark.usefixtures("in_network")
def test_a_lesson_is_not_opened_without_a_tutor(
    data_dir: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert command.run(["open"]) == 2
    assert "ricalco tutor NAME" in capsys.readouterr().err
    with closing(Ledger.open(Settings(data_dir=data_dir).ledger_url)) as ledger:
        assert not ledger.people.tutor_exists()


def test_opening_says_what_it_means_and_where_it_is(
    data_dir: Path, capsys: pytest.CaptureFixture[str], in_network: str, started: list[Settings]
) -> None:
    key_of(["tutor", "Ada"], capsys)
    with pytest.raises(SystemExit):
        command.run(["open", "--port", "8777"])
    printed = capsys.readouterr().out
    assert "every device on every network of this machine" in printed
    assert "not encrypted" in printed
    assert f"http://{in_network}:8777" in printed
    assert started[0].host == "0.0.0.0"  # noqa: S104
    assert started[0].page_dir is not None
    assert data_dir == started[0].data_dir


@pytest.mark.usefixtures("data_dir")
def test_without_a_network_it_is_not_opened_and_no_address_is_shown(
    capsys: pytest.CaptureFixture[str], started: list[Settings], monkeypatch: pytest.MonkeyPatch
) -> None:
    key_of(["tutor", "Ada"], capsys)
    monkeypatch.setattr("service.http.requests.lan_addresses.lan_address", lambda: None)
    assert command.run(["open"]) == 3
    printed = capsys.readouterr()
    assert printed.out == ""
    assert "is in no network" in printed.err
    assert "--address ADDRESS" in printed.err
    assert started == []


@pytest.mark.usefixtures("data_dir")
def test_it_is_opened_on_one_address_alone(
    capsys: pytest.CaptureFixture[str], started: list[Settings], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An address is tested by binding to it; here the loopback address is used."""
    key_of(["tutor", "Ada"], capsys)
    monkeypatch.setattr("service.http.requests.host_guard.is_loopback", lambda _: False)
    with pytest.raises(SystemExit):
        command.run(["open", "--address", "127.0.0.1", "--port", "8777"])
    printed = capsys.readouterr().out
    assert "every device on the network of 127.0.0.1" in printed
    assert "http://127.0.0.1:8777" in printed
    assert [settings.host for settings in started] == ["127.0.0.1"]


@pytest.mark.usefixtures("data_dir")
@pytest.mark.parametrize(
    ("address", "why"),
    [
        ("127.0.0.1", "for this machine alone"),
        ("::1", "for this machine alone"),
        ("0.0.0.0", "no address of one network"),  # noqa: S104 - It is refused.
        ("studio.example", "no address of one network"),
        ("192.0.2.99", "no address of this machine"),
    ],
)
def test_an_address_that_nobody_could_open_is_wrong_usage(
    capsys: pytest.CaptureFixture[str],
    started: list[Settings],
    in_network: str,
    address: str,
    why: str,
) -> None:
    key_of(["tutor", "Ada"], capsys)
    assert command.run(["open", "--address", address]) == 2
    printed = capsys.readouterr().err
    assert why in printed
    assert in_network in printed
    assert started == []
