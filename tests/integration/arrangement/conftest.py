"""The whole arrangement, started once for all tests that only use it."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
import requests

from deploy.arrangement.arrangement import Arrangement


@pytest.fixture(scope="module")
def arrangement() -> Iterator[Arrangement]:
    """Two web processes, two workers, and all that they need."""
    # PostgreSQL's account cannot enter the folders of pytest.
    folder = Path(tempfile.mkdtemp(prefix="ricalco-arrangement-"))
    whole = Arrangement(folder)
    try:
        whole.start()
        yield whole
    finally:
        whole.stop()
        for part in whole.parts.values():
            # Shown by pytest beside a test that failed.
            sys.stderr.write(f"== {part.name}\n{part.last_lines()}\n")
        shutil.rmtree(folder)


@pytest.fixture
def tutor(arrangement: Arrangement) -> Iterator[requests.Session]:
    """A client with the tutor's key."""
    with requests.Session() as session:
        session.headers["Authorization"] = f"Bearer {arrangement.key}"
        yield session
