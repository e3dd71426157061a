"""`ricalco web` hands over to gunicorn, with the settings of the options."""

from __future__ import annotations

import importlib.util
import os
import sys
from pathlib import Path

import pytest

from client.command.main import run
from client.web import FOLDER


def test_gunicorn_takes_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[tuple[list[str], dict[str, str]]] = []

    def take_place(program: str, words: list[str]) -> None:
        assert program == sys.executable
        started.append((words[1:], dict(os.environ)))

    monkeypatch.setattr(os, "execv", take_place)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("RICALCO_")}
    # The command changes the environment, which is this test's alone.
    monkeypatch.setattr(os, "environ", kept | {"MALLOC_ARENA_MAX": "3"})
    assert run(["web", "--data-dir", str(tmp_path)]) == 0
    ((words, environment),) = started
    assert words == ["-m", "gunicorn", "--config", "python:service.web_processes.config"]
    assert environment["RICALCO_DATA_DIR"] == str(tmp_path)
    # The service does not know the page.
    assert environment["RICALCO_PAGE_DIR"] == str(FOLDER)
    # What the operator says counts.
    assert environment["MALLOC_ARENA_MAX"] == "3"


def test_without_gunicorn_it_says_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: None)
    assert run(["web"]) == 3
    assert "pip install 'ricalco[gunicorn]'" in capsys.readouterr().err
