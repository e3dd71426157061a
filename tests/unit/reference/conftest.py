"""What several imaging tests need."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.unread import without_reading


@pytest.fixture
def pool() -> Iterator[ThreadPoolExecutor]:
    """Two threads to work on."""
    with ThreadPoolExecutor(2) as executor:
        yield executor


@pytest.fixture
def unread() -> Iterator[None]:
    """Nothing is seen in a picture that the test takes in."""
    with without_reading():
        yield
