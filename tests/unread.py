"""References taken in without being read, for tests of what the reading does not touch.

The networks take longer than all the rest of the intake of a small picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from worker.reference import write_reference
from worker.spec.reading import NOTHING_READ


@contextmanager
def without_reading() -> Iterator[None]:
    """Until it is left, nothing is seen in a picture that is taken in by this process."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(write_reference, "read_picture", lambda *_, **__: NOTHING_READ)
        yield
