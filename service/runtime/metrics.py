"""Figures for a Prometheus: what web and worker processes count, and what the ledger knows.

Queue and workers are read from the ledger at each page, so every web process tells the same. What
processes count they keep together in the data folder (`worker.store.metrics`): whichever of this
machine's web processes answers, the page has all of them, and on one machine the worker too.
Workers elsewhere show their counts at an address of their own (`worker.jobs.metrics_endpoint`).
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Mapping

from flask import Flask, Response, g, request

from service.runtime.context import EXTENSION, ServiceContext
from service.runtime.queue_limit import own_places
from worker.errors import FolderNotWritable
from worker.store.files.worker_lock import worker_lives
from worker.store.metrics import families
from worker.store.metrics.families import Family
from worker.store.metrics.shared import read_all


def count_requests(app: Flask) -> None:
    """Count requests, with the time that they take, their problems and their bytes."""

    @app.after_request
    def count(response: Response) -> Response:
        seconds = time.perf_counter() - g.get("began_s", time.perf_counter())
        context: ServiceContext = app.extensions[EXTENSION]
        route = request.url_rule.rule if request.url_rule else "none"
        method = request.method if request.url_rule else "other"
        counts = context.counts
        counts.add(families.REQUESTS, method, route, str(response.status_code))
        counts.observe(families.REQUEST_SECONDS, method, route, seconds=seconds)
        if code := g.get("problem_code"):
            counts.add(families.PROBLEMS, code)
        if length := response.content_length:
            counts.add(families.SENT_BYTES, route, by=float(length))
        return response


def page(context: ServiceContext) -> bytes:
    """The page of figures.

    Raises:
        FolderNotWritable: The counts of this machine's processes cannot be read.
        LedgerUnavailable: The ledger cannot be read.
    """
    # prometheus-client is loaded with the first page.
    from worker.store.metrics import exposition  # noqa: PLC0415

    try:
        counted = read_all(context.settings.metrics_folder)
    except OSError as error:
        message = f"{context.settings.metrics_folder} cannot be read: {error.strerror}."
        raise FolderNotWritable(message) from error
    return exposition.page(counted, _of_ledger(context))


def opens(key: str, sent: str | None) -> bool:
    """Whether this is the key that opens the page; an empty one opens nothing."""
    return bool(key) and secrets.compare_digest(key.encode(), (sent or "").encode())


def _of_ledger(context: ServiceContext) -> Mapping[Family, Mapping[str, float]]:
    gauges, workers = context.ledger.gauges(), context.ledger.workers.lately()
    limit = context.ledger.queue_limit(context.settings.max_queued, own_places())
    return {
        families.QUEUE_LIMIT: {"": float(limit)},
        families.CLOCK_SECONDS: {"": context.ledger.clock_difference_s()},
        families.WORKERS: {"": float(len(workers) + worker_lives(context.settings))},
        families.WORKER_PLACES: {"": float(sum(one.places for one in workers) + own_places())},
        families.PACKS: {state: float(count) for state, count in gauges.packs.items()},
        families.OLDEST_SECONDS: {str(state): age for state, age in gauges.oldest_s.items()},
        families.REFERENCES: {"": float(gauges.references)},
    }
