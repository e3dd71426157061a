"""`ricalco preview` on the command line."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from client.command import exit_codes

Run = Callable[..., subprocess.CompletedProcess[str]]
JOB = ("--support", "60x40cm")


@pytest.mark.parametrize("style", ["grey", "outline", "values"])
def test_it_is_written_as_a_picture(ricalco: Run, photo: Path, tmp_path: Path, style: str) -> None:
    out = tmp_path / "new" / "picture.png"
    done = ricalco("preview", photo, *JOB, "--style", style, "--width", "300", "--out", out)
    assert done.returncode == 0, done.stderr
    assert ("Tones part at" in done.stdout) == (style == "values")
    with Image.open(out) as picture:
        assert (picture.format, picture.size) == ("PNG", (300, 200))
        assert len(np.unique(np.asarray(picture))) > 2
    assert [place.name for place in out.parent.iterdir()] == ["picture.png"]


def test_the_photo_is_not_written_over(ricalco: Run, photo: Path) -> None:
    before = photo.read_bytes()
    done = ricalco("preview", photo, *JOB, "--out", photo)
    assert done.returncode == exit_codes.USAGE
    assert photo.read_bytes() == before
