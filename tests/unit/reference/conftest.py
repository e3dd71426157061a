"""What several imaging tests need."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest


@pytest.fixture
def pool() -> Iterator[ThreadPoolExecutor]:
    """Two threads to work on."""
    with ThreadPoolExecutor(2) as executor:
        yield executor
