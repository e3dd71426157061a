"""Checks that the files of a reference exist."""

from __future__ import annotations

from service.runtime.context import get_context
from worker.errors import ReferenceGone
from worker.store.disk_room import check_not_empty


def check_files(reference_id: str) -> None:
    """Check that the files of a reference exist, which its row does not say.

    Raises:
        ReferenceGone: Files are missing, so nothing can be made from it.
        StorageUnavailable: All files are missing: the disk is, and no photo.
    """
    if not has_files(reference_id):
        check_not_empty(get_context().storage)
        raise ReferenceGone(
            "The photo's files are no longer on the service's disk: send the photo again.",
            field="reference_id",
        )


def has_files(reference_id: str) -> bool:
    """Whether all files of a reference exist."""
    storage = get_context().storage
    names = ("master.zip", "study.npz", "preview.jpg")
    return all(storage.holds(f"references/{reference_id}/{name}") for name in names)
