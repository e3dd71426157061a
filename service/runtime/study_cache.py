"""Studies of the references that plans are being made of, kept in memory.

A page asks for a plan while a finger moves. Reading the study from disk each time would
take longer than planning, so the last ones used are kept, up to a number of bytes.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from worker.spec.study import ReferenceStudy

#: Room for the studies of some tens of large photos.
MAX_BYTES = 128_000_000


class StudyCache:
    """The least recently used go first; safe to use from several threads."""

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
        # Two threads may load the same study at once; that is cheaper than one lock a study.
        study = self._load(reference_id)
        self.put(reference_id, study)
        return study

    def put(self, reference_id: str, study: ReferenceStudy) -> None:
        """Keep a study, and let go of the ones that no longer fit."""
        with self._lock:
            self._drop(reference_id)
            self._kept[reference_id] = study
            self._bytes += size_bytes(study)
            while self._bytes > self._max_bytes:
                self._drop(next(iter(self._kept)))

    def drop(self, reference_id: str) -> None:
        """Let go of a reference that was deleted."""
        with self._lock:
            self._drop(reference_id)

    def _drop(self, reference_id: str) -> None:
        study = self._kept.pop(reference_id, None)
        if study is not None:
            self._bytes -= size_bytes(study)


def size_bytes(study: ReferenceStudy) -> int:
    """What a study takes in memory."""
    return study.thumb.nbytes + sum(level.density.nbytes for level in study.levels)
