"""The cache of styles finds each once, keeps what fits, and forgets what was deleted."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import Any

import numpy as np

from service.runtime.caches.styles import StyleCache
from tests.unit.pages.conftest import plan_for
from worker.picture.found_style import FoundStyle
from worker.reference.master import Master
from worker.spec.plan import Plan
from worker.spec.spec import Outline, Print, Sheet, Spec, Support, Tone
from worker.spec.strokes import Strokes

LINES = Spec(support=Support(width_mm=300, height_mm=200), tone=Tone(style="outline"))
PLAN = plan_for(LINES)
NO_MASTER: Any = None


def found_style() -> FoundStyle:
    """A thousand bytes, near enough."""
    strokes = Strokes(
        curves_mm=np.zeros((32, 4, 2), np.float32),
        first=np.array([0, 32], np.int32),
        weight=np.zeros(1, np.uint8),
        length_mm=np.ones(1, np.float32),
    )
    return FoundStyle(strokes=strokes)


class Finder:
    """Counts what it is asked to find."""

    def __init__(self) -> None:
        self.asked: list[Spec] = []
        self.go_on = threading.Event()
        self.go_on.set()

    def __call__(self, _: Master, spec: Spec, __: Plan, ___: int) -> FoundStyle:
        self.asked.append(spec)
        assert self.go_on.wait(60)
        return found_style()


def ask(cache: StyleCache, reference_id: str, spec: Spec = LINES, plan: Plan = PLAN) -> FoundStyle:
    return cache.finder(reference_id)(NO_MASTER, spec, plan, 2)


def test_what_changes_no_line_finds_none_anew() -> None:
    finder = Finder()
    cache = StyleCache(finder)
    found = ask(cache, "a")
    same = [
        replace(LINES, tone=Tone(style="mixed", lighten=0.4, contrast=0.2)),
        replace(LINES, tone=Tone(style="outline", outline=Outline(line_mm=0.7))),
        replace(LINES, sheet=Sheet(format="iso_a3_297x420mm")),
    ]
    assert all(ask(cache, "a", spec) is found for spec in same)
    others = [
        replace(LINES, tone=Tone(style="outline", outline=Outline(detail=0.6))),
        replace(LINES, print=Print(mirror=True)),
        replace(LINES, tone=Tone(style="values")),
        replace(LINES, tone=Tone(style="values", contrast=0.1)),
    ]
    for spec in others:
        ask(cache, "a", spec)
    assert finder.asked == [LINES, *others]


def test_another_crop_or_photo_is_another_style() -> None:
    finder = Finder()
    cache = StyleCache(finder)
    crop = replace(PLAN.crop, left=PLAN.crop.left + 0.01)
    resolution = replace(PLAN.resolution, resolved_ppi=60)
    for plan in (
        PLAN,
        replace(PLAN, crop=crop),
        replace(PLAN, rotate_deg=1.0),
        replace(PLAN, resolution=resolution),
    ):
        ask(cache, "a", plan=plan)
        ask(cache, "a", plan=plan)
    ask(cache, "b")
    assert len(finder.asked) == 5


def test_the_least_recently_used_goes_first_and_a_deleted_photo_at_once() -> None:
    finder = Finder()
    cache = StyleCache(finder, max_bytes=2 * found_style().size_bytes)
    for reference_id in ("a", "b", "a", "c", "a"):
        ask(cache, reference_id)
    assert len(finder.asked) == 3
    cache.drop("a")
    ask(cache, "c")
    assert len(finder.asked) == 3
    ask(cache, "a")
    assert len(finder.asked) == 4


def test_two_who_need_the_same_at_once_have_it_found_once() -> None:
    finder = Finder()
    finder.go_on.clear()
    cache = StyleCache(finder)
    had: list[FoundStyle] = []
    both = [threading.Thread(target=lambda: had.append(ask(cache, "a"))) for _ in range(2)]
    for thread in both:
        thread.start()
    finder.go_on.set()
    for thread in both:
        thread.join(60)
    assert len(finder.asked) == 1
    assert had[0] is had[1]


def test_photographs_need_nothing_that_is_kept() -> None:
    finder = Finder()
    cache = StyleCache(finder, max_bytes=0)
    grey = replace(LINES, tone=Tone(style="grey"))
    assert ask(cache, "a", grey).strokes is not None
    assert finder.asked == [grey]
