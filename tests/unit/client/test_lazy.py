"""What an import loads, seen from a fresh interpreter.

The library is to live in other people's web processes, and the layout is to stay pure.
"""

from __future__ import annotations

import subprocess
import sys

import pytest

_LOADED = "import sys, {module}; print(*sorted({{name.partition('.')[0] for name in sys.modules}}))"


def _loaded(module: str) -> set[str]:
    command = [sys.executable, "-W", "error", "-c", _LOADED.format(module=module)]
    ended = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    return set(ended.stdout.split())


@pytest.mark.parametrize(
    ("module", "kept_out"),
    [
        (
            "ricalco_client",
            {"flask", "worker", "service", "celery", "PIL", "numpy", "sqlalchemy", "click"},
        ),
        ("worker.layout", {"PIL", "flask", "reportlab", "celery", "sqlalchemy", "marshmallow"}),
        ("client.command.main", {"flask", "PIL", "reportlab", "celery", "sqlalchemy", "service"}),
    ],
)
def test_an_import_loads_no_more_than_it_needs(module: str, kept_out: set[str]) -> None:
    assert not _loaded(module) & kept_out
