"""Everything that is counted, in one table, with its labels.

No label has a person's id or name: values are routes as patterns, codes, states and steps.
"""

from __future__ import annotations

from typing import Final, Literal, NamedTuple

#: The version of the text format that every Prometheus reads.
MEDIA_TYPE: Final = "text/plain; version=0.0.4; charset=utf-8"
Kind = Literal["counter", "gauge", "histogram"]


class Family(NamedTuple):
    """One metric.

    Attributes:
        name: As Prometheus has it, without the `_total` of counters.
        kind: A gauge is added up over the processes that live; what is counted stays.
        meaning: In one sentence, with the unit.
        labels: Their names.
        bounds: Upper bounds of a histogram's buckets, in seconds.
    """

    name: str
    kind: Kind
    meaning: str
    labels: tuple[str, ...] = ()
    bounds: tuple[float, ...] = ()


_ANSWERS_S: Final = (0.01, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0)
_WORK_S: Final = (0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 90.0)
_WAIT_S: Final = (0.1, 1.0, 5.0, 15.0, 60.0, 300.0, 1200.0, 3600.0)

REQUESTS: Final = Family(
    "ricalco_requests", "counter", "Requests answered.", ("method", "route", "status")
)
REQUEST_SECONDS: Final = Family(
    "ricalco_request_seconds",
    "histogram",
    "Time from a request to its answer's headers, in s.",
    ("method", "route"),
    _ANSWERS_S,
)
PROBLEMS: Final = Family("ricalco_problems", "counter", "Requests refused or failed.", ("code",))
INTAKE_SECONDS: Final = Family(
    "ricalco_intake_seconds", "histogram", "Time to take a photo in, in s.", (), _WORK_S
)
PLAN_SECONDS: Final = Family(
    "ricalco_plan_seconds", "histogram", "Time to plan a pack, in s.", (), _ANSWERS_S
)
STORED_BYTES: Final = Family(
    "ricalco_stored_bytes", "counter", "Bytes put into storage.", ("kind",)
)
SENT_BYTES: Final = Family(
    "ricalco_sent_bytes", "counter", "Bytes of answers with a known length.", ("route",)
)
EVENT_STREAMS: Final = Family("ricalco_event_streams", "gauge", "Event streams that are open.")
MADE: Final = Family("ricalco_packs_made", "counter", "Packs made.")
FAILURES: Final = Family("ricalco_pack_failures", "counter", "Packs that failed.", ("code",))
ATTEMPTS_AGAIN: Final = Family(
    "ricalco_pack_attempts_again", "counter", "Attempts that were put back into the queue."
)
MAKE_SECONDS: Final = Family(
    "ricalco_make_seconds", "histogram", "Time to make a pack, in s.", (), _WORK_S
)
STEP_SECONDS: Final = Family(
    "ricalco_make_step_seconds",
    "histogram",
    "Time of a step of making, in s.",
    ("step",),
    _WORK_S,
)
WAIT_SECONDS: Final = Family(
    "ricalco_pack_wait_seconds",
    "histogram",
    "Time from asking for a pack to its first attempt, in s.",
    (),
    _WAIT_S,
)
#: What processes count.
FAMILIES: Final = (
    REQUESTS,
    REQUEST_SECONDS,
    PROBLEMS,
    INTAKE_SECONDS,
    PLAN_SECONDS,
    STORED_BYTES,
    SENT_BYTES,
    EVENT_STREAMS,
    MADE,
    FAILURES,
    ATTEMPTS_AGAIN,
    MAKE_SECONDS,
    STEP_SECONDS,
    WAIT_SECONDS,
)

PACKS: Final = Family("ricalco_packs", "gauge", "Packs in the ledger.", ("state",))
OLDEST_SECONDS: Final = Family(
    "ricalco_oldest_pack_seconds", "gauge", "Age of the oldest unfinished pack, in s.", ("state",)
)
QUEUE_LIMIT: Final = Family(
    "ricalco_queue_limit", "gauge", "Queued packs from which on others are refused."
)
REFERENCES: Final = Family("ricalco_references", "gauge", "Photos in the ledger.")
WORKERS: Final = Family("ricalco_workers", "gauge", "Workers that were seen lately.")
WORKER_PLACES: Final = Family(
    "ricalco_worker_places", "gauge", "Packs that these workers can make side by side."
)
CLOCK_SECONDS: Final = Family(
    "ricalco_clock_difference_seconds", "gauge", "The ledger's clock less this machine's, in s."
)
#: What is read from the ledger for each page.
LEDGER_FAMILIES: Final = (
    PACKS,
    OLDEST_SECONDS,
    QUEUE_LIMIT,
    REFERENCES,
    WORKERS,
    WORKER_PLACES,
    CLOCK_SECONDS,
)
