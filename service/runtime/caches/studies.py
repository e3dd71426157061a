"""A cache of the studies of references, which plans are made from.

A page requests a plan at each movement of a finger. Reading the study from disk each time
would take longer than planning, so the studies used last are kept, up to a number of bytes.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from worker.spec.study import ReferenceStudy

#: Enough for the studies of some tens of large photos.
MAX_BYTES = 128_000_000


class StudyCache:
    """A least-recently-used cache; safe to use from several threads."""

    def __init__(self, load: Callable[[str], ReferenceStudy], max_bytes: int = MAX_BYTES) -> None:
        self._load = load
        self._max_bytes = max_bytes
        self._kept: OrderedDict[str, ReferenceStudy] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()

    def get(self, reference_id: str) -> ReferenceStudy:
        """The study of a reference, from memory or from storage.

        Raises:
            NotFound: Storage has none.
        """
        with self._lock:
            if reference_id in self._kept:
                self._kept.move_to_end(reference_id)
                return self._kept[reference_id]
        # Two threads may load the same study at once; a lock for each study would cost more.
        study = self._load(reference_id)
        self.put(reference_id, study)
        return study

    def put(self, reference_id: str, study: ReferenceStudy) -> None:
        """Keep a study, and drop the ones that no longer fit."""
        with self._lock:
            self._drop(reference_id)
            self._kept[reference_id] = study
            self._bytes += size_bytes(study)
            while self._bytes > self._max_bytes:
                self._drop(next(iter(self._kept)))

    def drop(self, reference_id: str) -> None:
        """Drop the study of a reference that was deleted."""
        with self._lock:
            self._drop(reference_id)

    def references(self) -> set[str]:
        """The references whose studies are kept."""
        with self._lock:
            return set(self._kept)

    def _drop(self, reference_id: str) -> None:
        study = self._kept.pop(reference_id, None)
        if study is not None:
            self._bytes -= size_bytes(study)


def size_bytes(study: ReferenceStudy) -> int:
    """The memory that a study takes, in bytes."""
    return study.thumb.nbytes + sum(level.density.nbytes for level in study.levels)
