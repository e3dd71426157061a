"""The whole line behind the API with nothing pretended: photo, ledger, worker, files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pikepdf
import pytest

from tests.integration.queue.fake_worker import HELD_AT
from tests.waiting import wait_until
from worker.settings import Settings
from worker.store.files import Storage
from worker.store.ledger import ReferenceRow

StartWorker = Callable[..., Any]
SPEC = {"support": {"width_mm": 400, "height_mm": 300}}


@pytest.mark.usefixtures("real_reference")
def test_a_pack_is_made_as_planned(
    settings: Settings, desk: Any, storage: Storage, start_worker: StartWorker
) -> None:
    start_worker(settings)
    (pack_id,) = desk.ask(**SPEC)
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.error_code) == ("ready", None)
    assert row.done == row.total == row.plan["sheet_count"] > 1
    names = [key.rpartition("/")[2] for key in storage.keys(row.files_key)]
    assert names == ["map.png", "pack.pdf", "picture.jpg"]
    with storage.file(f"{row.files_key}/pack.pdf") as path, pikepdf.open(path) as pdf:
        assert len(pdf.pages) == row.plan["pieces"][-1]["page"]
    assert len(row.number) == len("7K3F-Q2ZD")
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_twenty_packs_outlive_kill_9_of_the_worker(
    settings: Settings, desk: Any, storage: Storage, start_worker: StartWorker
) -> None:
    """Two processes have made two packs each, and are in the middle of their third."""
    worker = start_worker(replace(settings, workers=2), "--held=2", fake=True)
    desk.ask(20, **SPEC)
    wait_until(lambda: worker.output.count(f"piece {HELD_AT} of") == 2)
    worker.kill()
    assert [desk.count(state) for state in ("ready", "making", "queued")] == [4, 2, 14]
    start_worker(settings)
    desk.wait_ended()
    assert desk.count("ready") == 20
    desk.check()
    packs = set()
    for row in map(desk.row, desk.ids):
        with storage.file(f"{row.files_key}/pack.pdf") as path:
            packs.add(path.read_bytes())
    # The same photo and spec give the same bytes, however often making was begun.
    assert len(packs) == 1


def test_a_pack_whose_reference_is_gone_fails_and_the_worker_lives(
    settings: Settings, desk: Any, start_worker: StartWorker, real_reference: str
) -> None:
    start_worker(settings)
    lost = ReferenceRow(width_px=9, height_px=9, format="jpeg", sha256="0" * 64)
    desk.reference_id = desk.ledger.add_reference(lost).id
    (poison,) = desk.ask(**SPEC)
    desk.reference_id = real_reference
    (good,) = desk.ask(**SPEC)
    desk.wait_ended()
    row = desk.row(poison)
    assert (row.state, row.error_code, row.attempt) == ("failed", "reference-gone", 1)
    assert desk.row(good).state == "ready"
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_what_another_version_wrote_fails_at_once_with_its_own_code(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(settings)
    plan = desk.plan(**SPEC)
    short = plan | {"pieces": plan["pieces"][1:]}
    packs = {
        "spec-invalid": desk.ask_as_planned(plan, **SPEC, fold=True),
        "plan-outdated": [
            *desk.ask_as_planned(None, **SPEC),
            *desk.ask_as_planned(plan | {"folds": []}, **SPEC),
            *desk.ask_as_planned(short, **SPEC),
        ],
    }
    desk.wait_ended()
    for code, ids in packs.items():
        for row in map(desk.row, ids):
            assert (row.state, row.error_code, row.attempt) == ("failed", code, 1)
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_two_versions_at_once_lose_no_pack(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    """While workers are updated: this one is of today's version, the other of the next."""
    older = start_worker(settings)
    plan = desk.plan(**SPEC)
    (of_today,) = desk.ask_as_planned(plan, **SPEC)
    # The next version's specs and plans say what nobody reads today.
    newer = plan | {"version": plan["version"] + 1, "folds": []}
    (of_tomorrow,) = desk.ask_as_planned(newer, **SPEC, fold=True)
    older.wait_for(f"Pack {of_tomorrow} is for a newer version")
    start_worker(settings, fake=True)
    desk.wait_ended()
    for pack_id in (of_today, of_tomorrow):
        assert (desk.row(pack_id).state, desk.row(pack_id).attempt) == ("ready", 1)
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_the_pack_is_the_plan_that_was_stored_not_a_new_one(
    settings: Settings, desk: Any, storage: Storage, start_worker: StartWorker
) -> None:
    """As after an update: what was promised came from another search than today's."""
    even = {"seams": {"placement": "even", "arrangement": "staggered"}}
    promised, today = desk.plan(**SPEC, **even), desk.plan(**SPEC)
    assert boxes_of(promised) != boxes_of(today)
    start_worker(settings)
    (pack_id,) = desk.ask_as_planned(promised, **SPEC)
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.error_code) == ("ready", None)
    assert row.plan == promised
    with storage.file(f"{row.files_key}/pack.pdf") as path, pikepdf.open(path) as pdf:
        drawn = [[float(side) for side in page.trimbox] for page in pdf.pages]
        high_pt = float(pdf.pages[0].mediabox[3])
    for page, (left, top, width, height) in boxes_of(promised).items():
        x0, y0, x1, y1 = (side * 25.4 / 72 for side in drawn[page - 1])
        measured = (x0, high_pt * 25.4 / 72 - y1, x1 - x0, y1 - y0)
        # The promise for a piece on its page.
        assert measured == pytest.approx((left, top, width, height), abs=0.01)


def boxes_of(plan: dict[str, Any]) -> dict[int, tuple[float, ...]]:
    """Where each piece lies on its page."""
    sides = ("left", "top", "width", "height")
    return {
        piece["page"]: tuple(piece["sheet_rect_mm"][side] for side in sides)
        for piece in plan["pieces"]
    }


@pytest.mark.usefixtures("real_reference")
def test_cancelling_works_while_making(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    """The real maker stands at its second piece meanwhile: it makes none after that."""
    worker = start_worker(replace(settings, workers=1), "--held=0", fake=True)
    (pack_id,) = desk.ask(support={"width_mm": 2000, "height_mm": 1500})
    wait_until(lambda: desk.row(pack_id).done == HELD_AT)
    row = desk.row(pack_id)
    assert (row.state, row.cancel_requested) == ("making", False)
    assert row.total > 10 * HELD_AT
    desk.ledger.cancel_or_delete(pack_id, "local")
    desk.wait_ended()
    row = desk.row(pack_id)
    assert (row.state, row.done, row.error_code) == ("cancelled", HELD_AT, None)
    assert f"piece {HELD_AT} of" in worker.output
    assert f"piece {HELD_AT + 1} of" not in worker.output
    desk.check()
