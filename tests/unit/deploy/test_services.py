"""Units, containers and their settings name what there is, since they cannot be run here."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import tomllib
from pathlib import Path
from typing import Any

import pytest
import yaml

from client.command.main import cli
from deploy.arrangement.program import WORKER_PATIENCE_S
from worker.jobs.parent_watch import STOP_WITHIN_S
from worker.settings import TABLE, Settings
from worker.store.files import open_storage

ROOT = Path(__file__).resolve().parents[3]
DEPLOY = ROOT / "deploy"
UNITS = sorted((DEPLOY / "systemd").glob("*.service"))
KNOWN = {line.variable for line in TABLE}


def values(unit: Path, name: str) -> list[str]:
    """All values that a unit has for a name."""
    return re.findall(rf"^{name}=(.*)$", unit.read_text(), flags=re.MULTILINE)


def compose() -> dict[str, Any]:
    return dict(yaml.safe_load((DEPLOY / "containers" / "compose.yaml").read_text()))


def check_command(words: list[str]) -> None:
    """The `ricalco` command knows the command and all of its options."""
    program, command, *options = words
    assert program.rpartition("/")[2] == "ricalco"
    known = {name for one in cli.commands[command].params for name in one.opts}
    assert {word for word in options if word.startswith("-")} <= known


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_a_unit_starts_a_command_with_settings_that_there_are(unit: Path) -> None:
    (start,) = values(unit, "ExecStart")
    check_command(shlex.split(start))
    set_here = {line.partition("=")[0] for line in values(unit, "Environment")}
    assert {name for name in set_here if name.startswith("RICALCO_")} <= KNOWN
    assert "RICALCO_DATA_DIR" in set_here


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_systemd_takes_the_units(unit: Path, tmp_path: Path) -> None:
    """As installed, with a program that is there."""
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip("systemd is not installed")
    here = tmp_path / unit.name
    here.write_text(unit.read_text().replace("/opt/ricalco/bin/ricalco", "/bin/true"))
    tried = subprocess.run(
        [analyze, "verify", str(here)], capture_output=True, text=True, check=False
    )
    assert (tried.returncode, tried.stderr) == (0, "")


def test_units_wait_until_packs_are_finished_or_handed_back() -> None:
    (worker,) = [unit for unit in UNITS if "worker" in unit.name]
    waits_s = [int(worker_s) for worker_s in values(worker, "TimeoutStopSec")]
    graces_s = [compose()["services"]["worker"]["stop_grace_period"].removesuffix("s")]
    for waited_s in (*waits_s, *map(int, graces_s), WORKER_PATIENCE_S):
        assert waited_s > STOP_WITHIN_S


def test_the_example_of_settings_can_be_read() -> None:
    lines = (DEPLOY / "systemd" / "ricalco.env").read_text().splitlines()
    written = dict(line.split("=", 1) for line in lines if line and not line.startswith("#"))
    assert {name for name in written if name.startswith("RICALCO_")} <= KNOWN
    settings = Settings.from_env({"RICALCO_DATA_DIR": "/nowhere", **written})
    assert not settings.one_machine
    assert type(open_storage(settings)).__name__ == "S3Storage"


def test_the_containers_start_commands_with_settings_that_there_are() -> None:
    ours = {name: one for name, one in compose()["services"].items() if one["image"] == "ricalco"}
    assert set(ours) == {"web", "worker"}
    for one in ours.values():
        check_command(one["command"])
        assert {name for name in one["environment"] if name.startswith("RICALCO_")} <= KNOWN
        # Nothing is written but what is mounted, and no right is gained.
        assert one["read_only"]
        assert one["cap_drop"] == ["ALL"]
        assert one["security_opt"] == ["no-new-privileges:true"]
        assert any("/data" in volume for volume in one["volumes"])


def test_the_image_is_made_of_what_there_is() -> None:
    text = (DEPLOY / "containers" / "Dockerfile").read_text()
    for line in re.findall(r"^COPY (.*)$", text, flags=re.MULTILINE):
        *sources, _ = line.split()
        assert all((ROOT / source).exists() for source in sources)
    (extras,) = re.findall(r"/source\[([\w,]+)\]", text)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert set(extras.split(",")) <= set(project["optional-dependencies"])
    assert set(re.findall(r"RICALCO_\w+", text)) <= KNOWN
    (command,) = re.findall(r"^CMD (.*)$", text, flags=re.MULTILINE)
    check_command(json.loads(command))
    # Not as root.
    assert re.search(r"^USER 10001$", text, flags=re.MULTILINE)


def test_what_is_mounted_is_there() -> None:
    here = DEPLOY / "containers"
    services = compose()["services"]
    mounted = [volume for one in services.values() for volume in one.get("volumes", [])]
    ours = [volume.partition(":")[0] for volume in mounted if volume.startswith(".")]
    assert len(ours) == 2
    assert all((here / path).exists() for path in ours)
