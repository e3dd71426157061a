"""Files of what was deleted: they go at once, and what memory kept of them goes too."""

from __future__ import annotations

from collections.abc import Iterable

from service.runtime.context import desk

_REFERENCES = "references/"


def delete_files(keys: Iterable[str]) -> None:
    """Delete what the ledger says belongs to nothing any more."""
    at = desk()
    for key in keys:
        if key.startswith(_REFERENCES):
            at.studies.drop(key.removeprefix(_REFERENCES))
        at.storage.delete(key)
