"""The events of a pack: state and progress at each step, and at the end the whole pack."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.packs.documents import pack_document, progress_document
from service.runtime.context import get_context, owner_id
from service.runtime.event_stream import Followed, stream
from worker.store.ledger import PackProgress


def event_id(progress: PackProgress) -> str:
    """An id that differs whenever the pack's progress does."""
    stopping = "stopping" if progress.cancel_requested and not progress.ended else progress.state
    return f"{progress.attempt}-{progress.done}-{progress.step or 'none'}-{stopping}"


def follow(pack_id: str) -> Response:
    """Follow a pack, with the errors of `event_stream.stream`."""
    context, key = get_context(), (owner_id(), pack_id)

    def data(progress: PackProgress) -> dict[str, Any]:
        if progress.ended:
            return pack_document(context.ledger.pack(pack_id, key[0]))
        return progress_document(progress)

    watcher = context.progress_watcher
    followed = Followed(watcher=watcher, key=key, event_id=event_id, data=data)
    return stream(followed, context.ledger.progress({key[0]: [pack_id]}).get(key))
