"""Clients that general-purpose generators make of the document alone make a pack.

In Python openapi-python-client (MIT), in TypeScript openapi-typescript and openapi-fetch (MIT),
compiled strictly and run by node. The service is the real one, with its worker.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.integration.contract.conftest import TOOLS, Described, run_tool
from tests.waiting import HANG_S

HERE = Path(__file__).resolve().parent
#: Files are files: the generator knows no media types but these by itself.
CONFIG = """
post_hooks: []
package_name_override: generated
content_type_overrides:
  application/pdf: application/octet-stream
  application/zip: application/octet-stream
  image/png: application/octet-stream
  image/jpeg: application/octet-stream
  image/svg+xml: application/octet-stream
  text/csv: application/octet-stream
  text/plain: application/octet-stream
"""
#: One sheet alone has a page of the guide, and the sheet.
PAGES = 2


@pytest.fixture(scope="module")
def in_python(described: Described, photo: bytes) -> dict[str, Any]:
    """What the client in Python met; it makes the first tutor."""
    folder = described.document.parent
    (folder / "generator.yaml").write_text(CONFIG)
    words = ["generate", "--path", str(described.document), "--meta", "none"]
    words += ["--config", "generator.yaml", "--output-path", "generated"]
    made = subprocess.run(
        [sys.executable, "-m", "openapi_python_client", *words],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=10 * HANG_S,
        check=True,
        env={**os.environ, "PYTHONUTF8": "1", "COLUMNS": "200"},
    )
    # What it cannot take it leaves out, with a warning.
    assert "WARNING" not in made.stdout + made.stderr, made.stdout[-4000:]
    (folder / "photo.jpg").write_bytes(photo)
    met = subprocess.run(
        [sys.executable, HERE / "make_pack.py", described.running.url, "photo.jpg", "python.pdf"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=10 * HANG_S,
        check=False,
        env={**os.environ, "PYTHONPATH": str(folder)},
    )
    assert met.returncode == 0, met.stderr[-4000:]
    return dict(json.loads(met.stdout))


def pages(path: Path) -> int:
    with pikepdf.open(io.BytesIO(path.read_bytes())) as pdf:
        return len(pdf.pages)


def test_a_client_in_python_makes_a_pack(described: Described, in_python: dict[str, Any]) -> None:
    assert {name: met for name, met in in_python.items() if name != "key"} == {
        "state": "ready",
        "same": True,
        "line_mm": 0.5,
        "sheets": 1,
        "problem": ["spec-invalid", "support.width_mm"],
        "width_mm": 300,
        "names": ["Ada", "王小明", "Kit"],
    }
    assert pages(described.document.parent / "python.pdf") == PAGES


@pytest.mark.slow
def test_a_client_in_typescript_makes_a_pack(
    described: Described, in_python: dict[str, Any]
) -> None:
    folder = described.document.parent / "typescript"
    folder.mkdir(exist_ok=True)
    (folder / "node_modules").symlink_to(TOOLS)
    (folder / "package.json").write_text('{"type": "module"}')
    shutil.copy(HERE / "make_pack.ts", folder)
    # A field with a default may be left out of a request.
    options = ["--output", "schema.d.ts", "--default-non-nullable", "false"]
    made = run_tool("openapi-typescript", str(described.document), *options, folder=folder)
    assert made.returncode == 0, made.stdout + made.stderr
    strict = ["--strict", "--target", "es2022", "--module", "nodenext", "--types", "node"]
    compiled = run_tool("tsc", *strict, "make_pack.ts", folder=folder)
    assert compiled.returncode == 0, compiled.stdout
    met = subprocess.run(
        ["node", "make_pack.js", described.running.url, in_python["key"], "../photo.jpg", "a.pdf"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=10 * HANG_S,
        check=False,
    )
    assert met.returncode == 0, met.stderr[-4000:]
    expected = {name: value for name, value in in_python.items() if name not in {"key", "names"}}
    assert json.loads(met.stdout) == expected
    assert pages(folder / "a.pdf") == PAGES
