"""Settings: one table, every line of it read, checked and handed on."""

from __future__ import annotations

import sys
from dataclasses import fields, replace
from pathlib import Path

import pytest
from platformdirs.api import PlatformDirsABC
from platformdirs.macos import MacOS
from platformdirs.unix import Unix
from platformdirs.windows import Windows, get_win_folder_from_env_vars

from worker.errors import SettingInvalid
from worker.settings import LEAST_SECRET, TABLE, Settings, user_data_dir

HOME = {"HOME": "/home/someone"}


def test_table_and_fields_are_the_same_and_each_line_has_a_meaning() -> None:
    assert [line.name.lower() for line in TABLE] == [one.name for one in fields(Settings)]
    assert all(line.meaning.endswith(".") for line in TABLE)
    assert len({line.name for line in TABLE}) == len(TABLE)


def test_the_table_states_the_defaults_that_the_class_has() -> None:
    read = Settings.from_env(HOME)
    built = Settings(data_dir=read.data_dir, workers=read.workers)
    assert read == built


def test_an_empty_environment_is_one_machine_in_the_users_own_folder() -> None:
    settings = Settings.from_env(HOME)
    assert settings.one_machine
    assert settings.host == "127.0.0.1"
    assert settings.ledger_url.startswith("sqlite:///")
    assert settings.ledger_url.endswith("/ledger.db")
    assert settings.files_url.startswith("file:///")
    assert settings.workers >= 1


@pytest.mark.parametrize(
    ("platform", "system", "environ", "folder"),
    [
        # The XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else ~/.local/share.
        ("linux", Unix, HOME, "/home/someone/.local/share/ricalco"),
        ("linux", Unix, {**HOME, "XDG_DATA_HOME": "/data"}, "/data/ricalco"),
        ("darwin", MacOS, HOME, "/home/someone/Library/Application Support/Ricalco"),
        ("win32", Windows, {"LOCALAPPDATA": "/local"}, "/local/Ricalco"),
    ],
)
def test_each_system_keeps_a_users_data_in_its_own_place(
    monkeypatch: pytest.MonkeyPatch,
    platform: str,
    system: type[PlatformDirsABC],
    environ: dict[str, str],
    folder: str,
) -> None:
    for name in ("HOME", "XDG_DATA_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environ.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr("platformdirs.PlatformDirs", system)
    # Windows' own call for the folder is not there on other systems.
    monkeypatch.setattr("platformdirs.windows.get_win_folder", get_win_folder_from_env_vars)
    assert user_data_dir() == Path(folder)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("PORT", "http"),
        ("TRUSTED_PROXY", "*"),
        ("TRUSTED_PROXY", "proxy.example"),
        ("PORT", "0"),
        ("PORT", "65536"),
        ("WORKERS", "-1"),
        ("WORKERS", "1.5"),
        ("BROKER_URL", "localhost"),
        ("DATABASE_URL", "ledger.db"),
        ("LOG_LEVEL", "LOUD"),
        ("ATTEMPTS", "0"),
    ],
)
def test_a_bad_value_is_refused_by_name(name: str, value: str) -> None:
    with pytest.raises(SettingInvalid) as caught:
        Settings.from_env({**HOME, f"RICALCO_{name}": value})
    assert caught.value.field == f"RICALCO_{name}"
    assert f"RICALCO_{name}" in caught.value.detail
    assert value in caught.value.detail


def test_the_hard_limit_must_come_after_the_soft_one() -> None:
    with pytest.raises(SettingInvalid, match="RICALCO_HARD_LIMIT_SECONDS"):
        Settings.from_env({**HOME, "RICALCO_SOFT_LIMIT_SECONDS": "120"})


def test_values_may_have_blanks_and_small_letters() -> None:
    environ = {"RICALCO_ALLOWED_HOSTS": " a.example , b.example,", "RICALCO_LOG_LEVEL": "debug"}
    settings = Settings.from_env({**HOME, **environ})
    assert settings.allowed_hosts == ("a.example", "b.example")
    assert settings.log_level == "DEBUG"


def test_a_child_process_gets_the_same_settings() -> None:
    settings = replace(
        Settings.from_env(HOME), port=1234, allowed_hosts=("a.example",), broker_url="redis://x"
    )
    assert Settings.from_env(settings.to_env()) == settings


def test_a_workers_figures_are_open_to_this_machine_or_with_a_key() -> None:
    key = "k" * LEAST_SECRET
    here, there = "127.0.0.1:9640", "10.0.0.7:9640"
    assert Settings.from_env({**HOME, "RICALCO_METRICS_ADDRESS": here}).metrics_place[1] == 9640
    opened = {**HOME, "RICALCO_METRICS_ADDRESS": there}
    with pytest.raises(SettingInvalid, match="RICALCO_METRICS_KEY"):
        Settings.from_env(opened)
    kept = Settings.from_env({**opened, "RICALCO_METRICS_KEY": key})
    assert kept.metrics_place == ("10.0.0.7", 9640)


@pytest.mark.parametrize("address", ["9640", "127.0.0.1", "127.0.0.1:0", "127.0.0.1:99999", ":1"])
def test_an_address_of_figures_that_is_none_is_refused(address: str) -> None:
    with pytest.raises(SettingInvalid, match="RICALCO_METRICS_ADDRESS"):
        Settings.from_env({**HOME, "RICALCO_METRICS_ADDRESS": address})


def test_a_short_secret_is_refused_and_not_told() -> None:
    with pytest.raises(SettingInvalid) as caught:
        Settings.from_env({**HOME, "RICALCO_METRICS_KEY": "hunter2"})
    assert caught.value.field == "RICALCO_METRICS_KEY"
    assert "hunter2" not in caught.value.detail


@pytest.mark.parametrize(
    ("environ", "needed"),
    [
        ({"RICALCO_DOWNLOADS": "proxy"}, "RICALCO_TRUSTED_PROXY"),
        ({"RICALCO_DOWNLOADS": "bucket"}, "RICALCO_STORAGE_URL"),
        ({"RICALCO_DOWNLOADS": "somebody"}, "service, proxy, bucket"),
    ],
)
def test_who_sends_packs_must_be_there(environ: dict[str, str], needed: str) -> None:
    with pytest.raises(SettingInvalid, match=needed) as refused:
        Settings.from_env({**HOME, **environ})
    assert refused.value.field == "RICALCO_DOWNLOADS"
