"""The document passes two general-purpose linters without a finding.

Spectral (Apache-2.0) with its recommended rules for OpenAPI, down to hints, and Redocly (MIT)
with the strictest form of its own; no rule is switched off and no finding is excused.
"""

from __future__ import annotations

import json
from pathlib import Path

from tests.integration.contract.conftest import Described, run_tool

RULES = 'extends: ["spectral:oas"]\n'
HINTS = ("--ruleset", "rules.yaml", "--fail-severity", "hint")


def test_spectral_finds_nothing(described: Described) -> None:
    folder = described.document.parent
    (folder / "rules.yaml").write_text(RULES)
    words = ["lint", described.document.name, "--format", "json", "--quiet"]
    found = run_tool("spectral", *words, *HINTS, folder=folder)
    assert found.returncode == 0, found.stdout[:4000] + found.stderr
    assert json.loads(found.stdout) == []


def test_redocly_finds_nothing(described: Described) -> None:
    words = ["lint", described.document.name, "--extends", "recommended-strict"]
    found = run_tool("redocly", *words, "--format", "json", folder=described.document.parent)
    assert found.returncode == 0, found.stdout[:4000] + found.stderr
    totals = json.loads(found.stdout)["totals"]
    assert (totals["errors"], totals["warnings"]) == (0, 0)


def test_both_would_find_something(tmp_path: Path) -> None:
    """A check that finds nothing in anything is none: here an operation has no id."""
    answer = {"description": "A thing.", "content": {"application/json": {"schema": {}}}}
    contract = {
        "openapi": "3.1.0",
        "info": {"title": "Things", "version": "1"},
        "paths": {"/things": {"get": {"responses": {"200": answer}}}},
    }
    (tmp_path / "broken.json").write_text(json.dumps(contract))
    (tmp_path / "rules.yaml").write_text(RULES)
    spectral = run_tool("spectral", "lint", "broken.json", *HINTS, folder=tmp_path)
    assert (spectral.returncode, "operation-operationId" in spectral.stdout) == (1, True)
    strict = ["--extends", "recommended-strict", "--format", "json"]
    redocly = run_tool("redocly", "lint", "broken.json", *strict, folder=tmp_path)
    assert (redocly.returncode, "operation-operationId" in redocly.stdout) == (1, True)
