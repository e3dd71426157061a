"""The document of a real service, and the tools that deploy/test.sh fetches to read it with."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests

from tests.integration.service.conftest import ROOT, Running, start
from tests.integration.service.conftest import photo as photo  # noqa: PLC0414 -- A fixture.
from tests.waiting import HANG_S

TOOLS = ROOT / ".venv" / "contract-tools" / "node_modules"


@dataclass(frozen=True)
class Described:
    """A service of one's own, and its document in a file."""

    running: Running
    document: Path

    @property
    def contract(self) -> dict[str, Any]:
        """The document."""
        return dict(json.loads(self.document.read_text(encoding="utf-8")))


@pytest.fixture(scope="session")
def described(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Described]:
    """A service with its worker, and what it says of itself."""
    folder = tmp_path_factory.mktemp("described")
    running = start(folder / "service")
    document = folder / "openapi.json"
    document.write_bytes(requests.get(f"{running.url}/v1/openapi.json", timeout=60).content)
    yield Described(running, document)
    assert running.stop() == 0
    assert "Traceback" not in running.log.read_text()


def run_tool(name: str, *words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run a program that came with npm; it must know its way without a network."""
    program = TOOLS / ".bin" / name
    assert program.exists(), f"{name} is missing: bash deploy/test.sh fetches it"
    return subprocess.run(
        [str(program), *words],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=10 * HANG_S,
        check=False,
        stdin=subprocess.DEVNULL,
    )
