"""How a web process begins and ends, without gunicorn's first process around it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from gunicorn.workers.base import Worker

from service.web_processes import process
from service.web_processes.process import WebProcess
from service.web_processes.replacement import Replacement
from worker.errors import LedgerUnavailable, SettingInvalid


@pytest.fixture
def replacement(monkeypatch: pytest.MonkeyPatch) -> Replacement:
    fresh = Replacement()
    monkeypatch.setattr(process, "REPLACEMENT", fresh)
    return fresh


@pytest.fixture
def web(monkeypatch: pytest.MonkeyPatch, replacement: Replacement) -> WebProcess:
    """One that gunicorn has forked."""
    del replacement
    monkeypatch.setattr(Worker, "__init__", lambda *_: None)
    monkeypatch.setattr(Worker, "notify", lambda _: None)
    made = WebProcess()
    made.alive, made.age, made.ppid = True, 1, os.getppid()
    return made


def raising(*errors: Exception) -> Callable[[Any], None]:
    """Loads that fail so, one after the other, before one succeeds."""
    left: Iterator[Exception] = iter(errors)

    def load(_: Any) -> None:
        for error in left:
            raise error

    return load


def test_a_ledger_that_is_away_is_waited_for(
    web: WebProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(process, "PAUSE_S", 0.0)
    away = [LedgerUnavailable("It does not answer.") for _ in range(3)]
    monkeypatch.setattr(Worker, "load_wsgi", raising(*away))
    web.load_wsgi()


def test_what_is_set_wrong_ends_it_with_one_line(
    web: WebProcess, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(Worker, "load_wsgi", raising(SettingInvalid("RICALCO_PORT is wrong.")))
    with pytest.raises(SystemExit) as ended:
        web.load_wsgi()
    assert (ended.value.code, capsys.readouterr().err) == (3, "RICALCO_PORT is wrong.\n")


def test_it_stops_when_it_is_asked_to(web: WebProcess) -> None:
    web._each_round()
    assert not web._stop.is_set()
    web.handle_exit(15, None)
    assert web._stop.is_set()


def test_at_a_reload_it_answers_until_a_new_one_does(
    web: WebProcess, replacement: Replacement
) -> None:
    replacement.begin(1)
    web.handle_exit(15, None)
    web._each_round()
    assert not web._stop.is_set()
    replacement.ready(2)
    web._each_round()
    assert web._stop.is_set()


def test_a_second_request_to_stop_waits_for_nobody(
    web: WebProcess, replacement: Replacement
) -> None:
    replacement.begin(1)
    web.handle_exit(15, None)
    web.handle_exit(15, None)
    assert web._stop.is_set()


def test_it_ends_with_gunicorns_first_process(web: WebProcess) -> None:
    web.ppid = -1
    web._each_round()
    assert web._stop.is_set()
