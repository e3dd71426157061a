"""What the README promises is what there is: settings, codes, calls, commands, warnings."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from http import HTTPStatus
from importlib.util import find_spec
from pathlib import Path
from typing import Any

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
#: Where the README sends those who want every call.
DOCUMENT = "/v1/openapi.json"
#: Addresses of pages, not of the API.
LTI = {
    "GET /lti/login",
    "POST /lti/login",
    "POST /lti/launch",
    "GET /lti/jwks",
    "GET /lti/map/{pack_id}",
    "POST /lti/renewals",
    "POST /lti/sign-in",
    "POST /lti/roster",
}
VIEWER = {"GET /v1/docs", "GET /v1/docs/{name}"}
DOZEN = 12
#: Signs in a line of text as browsers and editors show it.
LINE = 115
ROOMS = ("worker", "service", "client")


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


def calls_of(app: Flask) -> set[str]:
    """Method and path of everything that the application answers, as OpenAPI writes paths."""
    return {
        f"{method} " + re.sub(r"<(?:\w+(?:\(.*?\))?:)?(\w+)>", r"{\1}", rule.rule)
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }


def document_of(app: Flask) -> dict[str, Any]:
    """The OpenAPI document, fetched from where the README says that it is."""
    assert f"`{DOCUMENT}`" in README
    answer = app.test_client().get(DOCUMENT, base_url="http://127.0.0.1:8640")
    assert answer.status_code == HTTPStatus.OK
    return dict(answer.get_json())


def test_the_document_that_the_readme_points_to_has_every_call(app: Flask) -> None:
    document = document_of(app)
    assert document["openapi"].startswith("3.1.")
    described = {
        f"{method.upper()} {path}": view
        for path, methods in document["paths"].items()
        for method, view in methods.items()
        if method != "parameters"
    }
    # It does not describe itself, nor the page that shows it.
    assert set(described) == calls_of(app) - {f"GET {DOCUMENT}", *VIEWER, *LTI}
    assert {call for call, view in described.items() if not view.get("summary")} == set()


def test_the_readme_shows_the_dozen_calls_to_start_with(app: Flask) -> None:
    shown = re.findall(r"^\| `([A-Z]+ /[^`]*)` \| \S", README, flags=re.MULTILINE)
    assert len(shown) == len(set(shown)) == DOZEN
    assert set(shown) <= calls_of(app)
    # A photo in, a pack out, and away with it.
    assert set(shown) >= {
        "POST /v1/references",
        "POST /v1/plans",
        "POST /v1/packs",
        "GET /v1/packs/{pack_id}",
        "GET /v1/packs/{pack_id}/pack.pdf",
        "DELETE /v1/references/{reference_id}",
    }


def test_every_call_that_is_named_is_there_with_its_method(app: Flask) -> None:
    named = re.findall(r"`([A-Z]{3,6} /[^`?\s]*)[^`]*`", README + DEVELOPERS)
    assert len(set(named)) > DOZEN
    assert set(named) <= calls_of(app)


def test_every_address_that_is_named_is_there(app: Flask) -> None:
    paths = {call.split()[1] for call in calls_of(app)}
    named = re.findall(r"`(/[a-z][^`?\s]*)[^`]*`", README + DEVELOPERS)
    # Without a method: those for curl, and those that are only spoken of.
    named += re.findall(r"http://127\.0\.0\.1:8640(/\w[^\s\"'`;|]*)", README)
    assert DOCUMENT in named
    assert set(named) - {"/v1"} <= paths


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


def test_paths_that_are_named_are_there() -> None:
    rooted = rf"(?<![\w./-])(?:{'|'.join(ROOMS)}|tests|deploy)(?:/[\w.-]*\w)+"
    named = set(re.findall(rooted, README + DEVELOPERS))
    # Here every path is written in full, from the root: none may be short for another.
    named |= set(re.findall(r"`([\w.-]+(?:/[\w.-]+)+)/?`", DEVELOPERS))
    assert len(named) > len(ROOMS)
    assert {path for path in named if not (ROOT / path).exists()} == set()


def _has_files(folder: Path) -> bool:
    """Whether anything is in it but what Python left of modules that have moved."""
    return any(one.is_file() and one.suffix != ".pyc" for one in folder.rglob("*"))


def test_the_map_names_every_folder() -> None:
    folders = {
        f"{room}/{folder.name}/"
        for room in ROOMS
        for folder in (ROOT / room).iterdir()
        if not folder.name.startswith(("_", ".")) and _has_files(folder)
        # What pip leaves of an installation in place.
        if folder.suffix != ".egg-info"
    }
    map_ = DEVELOPERS.split("\n## Map\n")[1].split("\n## ")[0]
    assert {folder for folder in folders if f"`{folder}`" not in map_} == set()


def test_the_arrows_are_those_that_are_held() -> None:
    configured = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    layered = [one for one in configured["tool"]["importlinter"]["contracts"] if "layers" in one]
    assert len(layered) > len(ROOMS)
    for contract in layered:
        assert f" {' → '.join(contract['layers'])}\n" in DEVELOPERS


def test_a_decision_takes_three_lines_at_most() -> None:
    decisions = DEVELOPERS.split("\n## Decisions\n")[1].split("\n## ")[0]
    said = [one for one in decisions.split("\n\n") if one.startswith("**")]
    assert len(said) > len(re.findall(r"^### ", decisions, flags=re.MULTILINE)) > len(ROOMS)
    assert [one for one in said if len(one) > 3 * LINE] == []


def test_commands_for_developers_name_what_is_there() -> None:
    modules = re.findall(r"-m ((?!alone|slow)[\w.]+)", DEVELOPERS)
    assert "tests.bench" in modules
    assert [module for module in modules if find_spec(module) is None] == []
    (parts,) = re.findall(r"-m tests\.bench +# .*?: ([\w, ]+)$", DEVELOPERS, flags=re.MULTILINE)
    source = (ROOT / "tests" / "bench" / "__main__.py").read_text(encoding="utf-8")
    tables = [node.value for node in ast.parse(source).body if isinstance(node, ast.Assign)]
    (table,) = [node for node in tables if isinstance(node, ast.Dict)]
    assert parts.split(", ") == [ast.literal_eval(key) for key in table.keys if key]


def test_links_within_the_readme_lead_to_a_heading() -> None:
    headings = re.findall(r"^#+ (.+)$", README, flags=re.MULTILINE)
    anchors = {re.sub(r"[^\w -]", "", one).strip().lower().replace(" ", "-") for one in headings}
    links = set(re.findall(r"\]\(#([\w-]+)\)", README))
    assert links
    assert links <= anchors
