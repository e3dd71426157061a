"""A cache of plans: pictures and close-ups of one job are requested many times.

The search for seams of a mural takes longer than all that a close-up draws. A plan follows from the
study of its reference and from the spec alone, so it is kept until others were needed more lately.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from threading import Lock

from worker.spec.plan import Plan
from worker.spec.spec import Spec

#: The largest takes about a megabyte.
MOST_PLANS = 32


class PlanCache:
    """A least-recently-used cache; safe to use from several threads."""

    def __init__(self, most: int = MOST_PLANS) -> None:
        self._most = most
        self._kept: OrderedDict[tuple[str, Spec], Plan] = OrderedDict()
        self._lock = Lock()

    def get(self, reference_id: str, spec: Spec, make: Callable[[], Plan]) -> Plan:
        """The plan of a reference with a spec, kept or made.

        Raises:
            SpecError: `make` cannot plan this spec; nothing is kept.
        """
        key = (reference_id, spec)
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        # Two threads may make the same plan at once; neither makes the other wait.
        plan = make()
        with self._lock:
            self._kept[key] = plan
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return plan

    def drop(self, reference_id: str) -> None:
        """Drop the plans of a reference that was deleted."""
        with self._lock:
            for key in [key for key in self._kept if key[0] == reference_id]:
                del self._kept[key]

    def references(self) -> set[str]:
        """The references that plans are kept of."""
        with self._lock:
            return {reference_id for reference_id, _ in self._kept}
