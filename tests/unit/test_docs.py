"""What the README promises is what there is: settings, codes, calls, commands, warnings."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask import Flask

from client.command.main import cli
from service import errors as service_errors
from service.app import create_app
from worker import errors
from worker.layout import advice
from worker.settings import TABLE, Settings

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
    assert len(warnings) >= 6
    assert {code for code in warnings if f"`{code}`" not in README} == set()


def test_every_call_is_in_the_readme(app: Flask) -> None:
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<(?:\w+(?:\(.*?\))?:)?(\w+)>", r"{\1}", rule.rule)
        for method in sorted((rule.methods or set()) & {"GET", "POST", "DELETE"}):
            if path not in {"/v1/openapi.json", "/static/{filename}"}:
                assert f"| `{method} {path}` |" in README


def test_every_command_is_in_the_readme() -> None:
    assert {name for name in cli.commands if f"`ricalco {name}" not in README} == set()


def test_pictures_and_scripts_that_are_named_are_there() -> None:
    for path in re.findall(r"deploy/[\w/.]+\.\w+", README + DEVELOPERS):
        assert (ROOT / path).exists(), path
