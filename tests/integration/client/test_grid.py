"""`ricalco grid` on the command line."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pikepdf

from client.command import exit_codes

Run = Callable[..., subprocess.CompletedProcess[str]]


def test_two_pages_are_written(ricalco: Run, photo: Path, tmp_path: Path) -> None:
    out = tmp_path / "grid.pdf"
    done = ricalco("grid", photo, "--support", "60x40cm", "--grid", "5cm", "--out", out)
    assert done.returncode == 0, done.stderr
    with pikepdf.open(out) as pdf:
        assert len(pdf.pages) == 2
    refused = ricalco("grid", photo, "--support", "60x40cm", "--out", out)
    assert refused.returncode == exit_codes.USAGE
    assert "--grid 5cm" in refused.stderr
