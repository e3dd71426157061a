"""Files of what was deleted: they go at once, and what memory kept of them goes too."""

from __future__ import annotations

from collections.abc import Iterable

from service.runtime.context import get_context

_REFERENCES = "references/"


def delete_files(keys: Iterable[str]) -> None:
    """Delete what the ledger says belongs to nothing any more."""
    context = get_context()
    for key in keys:
        if key.startswith(_REFERENCES):
            context.study_cache.drop(key.removeprefix(_REFERENCES))
        context.storage.delete(key)
