"""What gunicorn is told follows from our settings."""

from __future__ import annotations

import importlib
import subprocess
import sys
from types import SimpleNamespace

import pytest

from service.web_processes import config
from service.web_processes.replacement import REPLACEMENT
from worker.settings import Settings


def read(monkeypatch: pytest.MonkeyPatch, **settings: str) -> None:
    for name in ("HOST", "PORT", "WEB_PROCESSES"):
        monkeypatch.delenv(f"RICALCO_{name}", raising=False)
    for name, value in settings.items():
        monkeypatch.setenv(f"RICALCO_{name}", value)
    importlib.reload(config)


def test_its_defaults_are_those_of_the_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    read(monkeypatch)
    settings = Settings.from_env({})
    assert config.bind == f"{settings.host}:{settings.port}"
    assert config.workers == settings.web_processes


def test_settings_are_read_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    read(monkeypatch, HOST="[::1]", PORT="8000", WEB_PROCESSES="4")
    assert (config.bind, config.workers) == ("[::1]:8000", 4)


@pytest.mark.parametrize("written", ["many", "0", "-1"])
def test_what_is_no_number_starts_one_that_says_so(
    monkeypatch: pytest.MonkeyPatch, written: str
) -> None:
    read(monkeypatch, WEB_PROCESSES=written)
    assert config.workers == 1


def test_the_first_process_loads_nothing_of_the_application() -> None:
    """Else a reload after an update would go on with the old code."""
    loads = "import service.web_processes.config, service.web_processes.process as p, sys; "
    loads += "import service.web_processes.log_lines; "
    loads += "print([name for name in sys.modules if name.startswith(('service', 'worker'))])"
    told = subprocess.run(
        [sys.executable, "-c", loads], capture_output=True, text=True, check=True
    ).stdout
    names = [f"service.web_processes.{name}" for name in ("config", "log_lines", "process")]
    wanted = {"service", "service.web_processes", "service.web_processes.replacement", *names}
    assert set(eval(told)) == wanted  # noqa: S307 -- A list that this test has printed.


def test_a_reload_replaces_all_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    begun: list[int] = []
    monkeypatch.setattr(type(REPLACEMENT), "begin", lambda _, newest: begun.append(newest))
    config.on_reload(SimpleNamespace(worker_age=7))
    assert begun == [7]
