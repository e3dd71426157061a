"""What an import loads, seen from a fresh interpreter.

The library is to live in other people's web processes, and the layout is to stay pure.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import ricalco_client

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


def test_the_library_works_under_any_name(tmp_path: Path) -> None:
    """A copy inside another program finds its own modules, not those of an installed library."""
    source = Path(ricalco_client.__file__).parent
    shutil.copytree(source, tmp_path / "vendored", ignore=shutil.ignore_patterns("__pycache__"))
    program = f"import sys; sys.path.insert(0, {str(tmp_path)!r}); import vendored; "
    program += "print(vendored.Ricalco.__module__, 'ricalco_client' in sys.modules)"
    ended = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60
    )
    assert ended.stdout == "vendored.api False\n"
