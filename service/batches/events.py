"""The events of a batch: how many packs are in which state, and at the end the whole batch."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.batches.documents import batch_document, progress_document
from service.runtime.context import get_context, owner_id
from service.runtime.event_stream import Followed, stream
from worker.store.ledger import BatchProgress


def event_id(progress: BatchProgress) -> str:
    """An id that differs whenever the batch's progress does."""
    counts = "-".join(f"{state[:2]}{count}" for state, count in progress.counts)
    return f"{progress.done}-{progress.total}-{counts}{'-stopped' * progress.cancelled}"


def follow(batch_id: str) -> Response:
    """Follow a batch, with the errors of `event_stream.stream`."""
    context, key = get_context(), (owner_id(), batch_id)

    def data(progress: BatchProgress) -> dict[str, Any]:
        if progress.ended:
            return batch_document(context.ledger.batches.get(batch_id, key[0]))
        return progress_document(progress)

    watcher = context.batch_watcher
    followed = Followed(watcher=watcher, key=key, event_id=event_id, data=data)
    return stream(followed, context.ledger.batches.progress({key[0]: [batch_id]}).get(key))
