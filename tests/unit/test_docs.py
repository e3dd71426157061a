"""What the README promises is what there is: settings, codes, calls, commands, warnings."""

from __future__ import annotations

import json
import re
from pathlib import Path

import click
import pytest
from click.testing import CliRunner
from flask import Flask

from client.command.main import cli
from service.app import create_app
from service.http import errors as service_errors
from worker import errors
from worker.layout import advice
from worker.settings import TABLE, Settings
from worker.spec.json import dump_spec, load_spec

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def codes(kind: type[errors.RicalcoError]) -> set[str]:
    """The codes of an error and of all errors below it."""
    found = {kind.code} if "code" in vars(kind) else set()
    for below in kind.__subclasses__():
        found |= codes(below)
    return found


@pytest.fixture
def app(tmp_path: Path) -> Flask:
    """The application, which knows its own calls."""
    return create_app(Settings(data_dir=tmp_path))


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, job, _ = README.split("\n\n", 2)
    assert title == "# Ricalco"
    assert "\n" not in job
    assert job.startswith("You draw from photographs")


@pytest.mark.parametrize("line", TABLE, ids=lambda line: line.variable)
def test_every_setting_is_in_the_readme_as_it_is(line: object) -> None:
    default = f"`{line.default}`" if line.default else ""
    assert f"| `{line.variable}` | {default} | {line.meaning} |" in README


def test_every_error_code_is_in_the_readme() -> None:
    assert service_errors.Busy.code in codes(errors.RicalcoError)
    known = codes(errors.RicalcoError) - {"error"}
    assert {code for code in known if f"`{code}`" not in README} == set()


def test_every_warning_is_in_the_readme() -> None:
    source = Path(advice.__file__).read_text(encoding="utf-8")
    warnings = set(re.findall(r'"([a-z]+(?:-[a-z]+)+)":? ', source))
    assert len(warnings) >= 5
    assert {code for code in warnings if f"`{code}`" not in README} == set()


def test_the_readme_has_every_call_and_no_other(app: Flask) -> None:
    calls = {
        f"{method} " + re.sub(r"<(?:\w+(?:\(.*?\))?:)?(\w+)>", r"{\1}", rule.rule)
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    told = re.findall(r"^\| `([A-Z]+ /[^`]*)` \|", README, flags=re.MULTILINE)
    assert sorted(told) == sorted(calls - {"GET /v1/openapi.json"})


def test_every_command_is_in_the_readme() -> None:
    assert {name for name in cli.commands if f"`ricalco {name}" not in README} == set()


def shown_commands() -> list[str]:
    """Every use of the command that the README shows, with something in each gap."""
    told = re.findall(r"^bash deploy/run\.sh (\S.*)$", README, flags=re.MULTILINE)
    for cell in re.findall(r"^\| (`ricalco .*?) \|", README, flags=re.MULTILINE):
        first, *others = re.findall(r"`([^`]+)`", cell)
        told.append(first.removeprefix("ricalco "))
        # What follows in the same cell leaves out the words that they share.
        told += [f"{first.split()[1]} {other}" for other in others]
    told += re.findall(r"`ricalco ([^`]+)`", README)
    return sorted({one.replace("…", "PHOTO --support a3") for one in told})


@pytest.mark.parametrize("shown", shown_commands())
def test_every_command_is_taken_as_the_readme_shows_it(
    shown: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for name in re.findall(r"\bPHOTO\b|\w+\.(?:jpg|csv)", shown):
        Path(name).touch()
    reached: list[str] = []

    def disarm(command: click.Command) -> None:
        for below in getattr(command, "commands", {}).values():
            disarm(below)
        if not isinstance(command, click.Group):
            monkeypatch.setattr(command, "callback", lambda **_: reached.append(shown))

    disarm(cli)
    said = CliRunner().invoke(cli, shown.split())
    assert said.exit_code == 0, said.output
    # A command that is only asked for its help shows that.
    assert reached or "Usage:" in said.output


def test_the_readmes_spec_is_one_and_names_every_field() -> None:
    (example,) = re.findall(r"```json\n(\{\n  \"support.*?)```", README, flags=re.DOTALL)
    document = json.loads(example)
    spec = dump_spec(load_spec(document))
    assert spec == document
    for part, told in spec.items():
        default = dump_spec(load_spec({"support": document["support"]}))[part]
        # Crop and grid have none.
        assert part in {"crop", "grid"} or told == default


def test_pictures_and_scripts_that_are_named_are_there() -> None:
    for path in re.findall(r"deploy/[\w/.]+\.\w+", README + DEVELOPERS):
        assert (ROOT / path).exists(), path
