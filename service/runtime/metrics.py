"""Metrics in the Prometheus text format (version 0.0.4).

Packs and waiting times are counted in the ledger at each request for metrics, so that they
are right with any number of web processes; only requests are counted here. The format is
simple enough to need no library.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from threading import Lock

MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"
Labels = tuple[tuple[str, str], ...]
Sample = tuple[Labels, float]


class Counters:
    """Requests by route and status, and the seconds they took."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._requests: Counter[Labels] = Counter()
        self._seconds: Counter[Labels] = Counter()

    def add(self, *, method: str, route: str, status: int, seconds: float) -> None:
        """Count one request."""
        place: Labels = (("method", method), ("route", route))
        with self._lock:
            self._requests[(*place, ("status", str(status)))] += 1
            # Counter is typed for integers, so the time is counted in microseconds.
            self._seconds[place] += round(seconds * 1e6)

    def requests(self) -> list[Sample]:
        """Requests answered."""
        with self._lock:
            return [(labels, float(count)) for labels, count in self._requests.items()]

    def seconds(self) -> list[Sample]:
        """Time spent on them."""
        with self._lock:
            return [(labels, micros / 1e6) for labels, micros in self._seconds.items()]


def family(name: str, kind: str, meaning: str, samples: Iterable[Sample]) -> str:
    """One metric with its samples."""
    lines = [f"# HELP {name} {meaning}", f"# TYPE {name} {kind}"]
    # Fifteen digits: with the default of six a counter stops growing after a million.
    lines += [f"{name}{_labels(labels)} {value:.15g}" for labels, value in samples]
    return "\n".join(lines) + "\n"


def _labels(labels: Labels) -> str:
    if not labels:
        return ""
    return "{" + ",".join(f'{name}="{_escape(value)}"' for name, value in labels) + "}"


def _escape(value: str) -> str:
    return value.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")
