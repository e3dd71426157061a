"""A cache of what was found for tone styles: the lines and flat tones of whole pictures.

A page shows the whole picture, and close-ups of it while a finger moves. Finding lines takes up
to some seconds, drawing a part of them some hundredths of one: so what was found last is kept, up
to a number of bytes, and a request that needs what another is finding waits for it.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from threading import Lock

from worker.picture.found_style import FoundStyle, StyleFinder, find_style, style_key
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Spec

#: Enough for the flat tones of one mural, or the lines of hundreds of pictures.
MAX_BYTES = 128_000_000

_Key = tuple[str, Hashable]


class StyleCache:
    """A least-recently-used cache; safe to use from several threads."""

    def __init__(self, find: StyleFinder = find_style, max_bytes: int = MAX_BYTES) -> None:
        self._find = find
        self._max_bytes = max_bytes
        self._kept: OrderedDict[_Key, FoundStyle] = OrderedDict()
        self._finding: dict[_Key, Lock] = {}
        self._bytes = 0
        self._lock = Lock()

    def finder(self, reference_id: str) -> StyleFinder:
        """What finds the style of this reference, or has it already."""

        def find(master: Master, spec: Spec, plan: Plan, threads: int) -> FoundStyle:
            styled = style_key(spec, plan)
            # A photograph in grey or colour needs nothing, which need not be kept.
            if not styled:
                return self._find(master, spec, plan, threads)
            key = (reference_id, styled)
            with self._lock:
                turn = self._finding.setdefault(key, Lock())
            with turn:
                try:
                    found = self._get(key) or self._find(master, spec, plan, threads)
                    self._put(key, found)
                finally:
                    with self._lock:
                        self._finding.pop(key, None)
            return found

        return find

    def drop(self, reference_id: str) -> None:
        """Drop everything of a reference that was deleted."""
        with self._lock:
            for key in [key for key in self._kept if key[0] == reference_id]:
                self._drop(key)

    def references(self) -> set[str]:
        """The references that something is kept of."""
        with self._lock:
            return {reference_id for reference_id, _ in self._kept}

    def _get(self, key: _Key) -> FoundStyle | None:
        with self._lock:
            return self._kept.get(key)

    def _put(self, key: _Key, found: FoundStyle) -> None:
        """Keep it as the newest, and drop what no longer fits."""
        with self._lock:
            self._drop(key)
            self._kept[key] = found
            self._bytes += found.size_bytes
            while self._bytes > self._max_bytes:
                self._drop(next(iter(self._kept)))

    def _drop(self, key: _Key) -> None:
        found = self._kept.pop(key, None)
        if found is not None:
            self._bytes -= found.size_bytes
