"""The cache of studies stays within its bytes and forgets the oldest use first."""

from __future__ import annotations

import numpy as np

from service.runtime.caches.studies import StudyCache, size_bytes
from worker.spec.study import DetailLevel, ReferenceStudy


def a_study() -> ReferenceStudy:
    """Some four thousand bytes."""
    level = DetailLevel(density=np.zeros((25, 30), np.float32), pixel_size_px=2)
    return ReferenceStudy(
        width_px=60, height_px=50, levels=(level,), thumb=np.zeros((20, 50), np.uint8)
    )


class Shelf:
    """Counts what is read from storage."""

    def __init__(self) -> None:
        self.read: list[str] = []

    def load(self, reference_id: str) -> ReferenceStudy:
        self.read.append(reference_id)
        return a_study()


def test_the_least_recently_used_goes_first() -> None:
    shelf = Shelf()
    studies = StudyCache(shelf.load, max_bytes=2 * size_bytes(a_study()))
    for reference_id in ["a", "b", "a", "c", "a", "b"]:
        studies.get(reference_id)
    assert shelf.read == ["a", "b", "c", "b"]


def test_what_is_larger_than_all_room_is_not_kept() -> None:
    shelf = Shelf()
    studies = StudyCache(shelf.load, max_bytes=10)
    studies.get("a")
    studies.get("a")
    assert shelf.read == ["a", "a"]


def test_a_deleted_reference_is_forgotten() -> None:
    shelf = Shelf()
    studies = StudyCache(shelf.load)
    studies.put("a", a_study())
    studies.get("a")
    assert shelf.read == []
    studies.drop("a")
    studies.drop("never there")
    studies.get("a")
    assert shelf.read == ["a"]
