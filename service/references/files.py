"""Checks that the files of a reference exist."""

from __future__ import annotations

from service.runtime.context import get_context
from worker.errors import NotFound, ReferenceGone


def check_files(reference_id: str) -> None:
    """Check that the files of a reference exist, which its row does not say.

    Raises:
        ReferenceGone: Files are missing, so nothing can be made from it.
    """
    if not has_files(reference_id):
        raise ReferenceGone(
            "The photo's files are no longer on the service's disk: send the photo again.",
            field="reference_id",
        )


def has_files(reference_id: str) -> bool:
    """Whether all files of a reference exist."""
    try:
        for name in ("master.zip", "study.npz", "preview.jpg"):
            with get_context().storage.file(f"references/{reference_id}/{name}"):
                pass
    except NotFound:
        return False
    return True
