"""The cache of plans makes each once, keeps the newest, and forgets what was deleted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.runtime.caches.plans import PlanCache
from tests.unit.pages.conftest import plan_for
from worker.errors import TooManySheets
from worker.spec.plan import Plan
from worker.spec.spec import Area, Seams, Spec, Support, Tone, Values

SPEC = Spec(
    support=Support(width_mm=300, height_mm=200),
    seams=Seams(protect=(Area(left=0.1, top=0.1, width=0.2, height=0.2),)),
    tone=Tone(style="values", values=Values(count=3, thresholds=(0.3, 0.6))),
)
OTHER = replace(SPEC, support=Support(width_mm=310, height_mm=200))
PLAN = plan_for(SPEC)


class Planner:
    """Counts what it plans."""

    def __init__(self) -> None:
        self.made = 0

    def __call__(self) -> Plan:
        self.made += 1
        return PLAN


def test_each_is_made_once_and_the_oldest_use_is_forgotten_first() -> None:
    planner, plans = Planner(), PlanCache(most=2)
    for reference_id, spec in (("a", SPEC), ("a", OTHER), ("a", replace(SPEC)), ("b", SPEC)):
        assert plans.get(reference_id, spec, planner) is PLAN
    assert planner.made == 3
    plans.get("a", SPEC, planner)
    assert planner.made == 3
    plans.get("a", OTHER, planner)
    assert planner.made == 4


def test_a_deleted_photo_has_none() -> None:
    planner, plans = Planner(), PlanCache()
    plans.get("a", SPEC, planner)
    plans.get("b", SPEC, planner)
    plans.drop("a")
    plans.get("b", SPEC, planner)
    assert planner.made == 2
    plans.get("a", SPEC, planner)
    assert planner.made == 3


def test_a_refusal_is_not_kept() -> None:
    planner, plans = Planner(), PlanCache()

    def refuse() -> Plan:
        raise TooManySheets("Too many.")

    with pytest.raises(TooManySheets):
        plans.get("a", SPEC, refuse)
    assert plans.get("a", SPEC, planner) is PLAN
