"""Tallies that are elsewhere, and in this process while they cannot be reached."""

from __future__ import annotations

import logging
import time
from collections.abc import Sequence
from typing import TypeVar

from service.runtime.limits.tallies.protocol import Act, MemoryTallies, Name, Tallies

_LOG = logging.getLogger(__name__)
#: How long this process counts alone before it tries again.
PAUSE_S = 10.0
_T = TypeVar("_T")


class TalliesUnavailable(Exception):
    """What is elsewhere cannot be reached now."""


class GuardedTallies:
    """See `Tallies`.

    Args:
        shared: Where all processes count; raises TalliesUnavailable.
    """

    def __init__(self, shared: Tallies) -> None:
        self._shared = shared
        self._alone = MemoryTallies()
        self._again_s = 0.0

    def change(self, names: Sequence[Name], act: Act[_T]) -> _T:
        """See `Tallies`."""
        if time.monotonic() >= self._again_s:
            try:
                return self._shared.change(names, act)
            except TalliesUnavailable as error:
                self._again_s = time.monotonic() + PAUSE_S
                _LOG.warning("This process counts alone for limits: %s", error)
        return self._alone.change(names, act)
