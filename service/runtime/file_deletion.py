"""Deletes the files of deleted rows, and what caches have of them."""

from __future__ import annotations

from collections.abc import Iterable

from service.runtime.context import get_context

_REFERENCES = "references/"


def delete_files(keys: Iterable[str]) -> None:
    """Delete the files with these keys, which no row of the ledger names any more."""
    context = get_context()
    for key in keys:
        if key.startswith(_REFERENCES):
            context.forget(key.removeprefix(_REFERENCES))
        context.storage.delete(key)
