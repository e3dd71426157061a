"""The whole line behind the API with nothing pretended: photo, ledger, worker, files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pikepdf
import pytest

from tests.waiting import wait_until
from worker.ledger import ReferenceRow
from worker.settings import Settings
from worker.storage import Storage

#: It measures time, or kills what others would be using.
pytestmark = pytest.mark.alone

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
    assert names == ["map.png", "pack.pdf"]
    with storage.file(f"{row.files_key}/pack.pdf") as path, pikepdf.open(path) as pdf:
        assert len(pdf.pages) == row.plan["pieces"][-1]["page"]
    assert len(row.number) == len("7K3F-Q2ZD")
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_twenty_packs_outlive_kill_9_of_the_worker(
    settings: Settings, desk: Any, storage: Storage, start_worker: StartWorker
) -> None:
    worker = start_worker(settings)
    desk.ask(20, **SPEC)
    wait_until(lambda: desk.count("ready") >= 4 and desk.count("making") > 0)
    worker.kill()
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
def test_a_spec_that_does_not_fit_fails_with_its_own_code(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(settings)
    crop = {"left": 0.5, "top": 0.0, "width": 0.9, "height": 0.5}
    (outside,) = desk.ask(**SPEC, crop=crop)
    (unknown,) = desk.ask(**SPEC, sheet={"format": "na_nowhere_1x1in"})
    desk.wait_ended()
    assert {desk.row(pack_id).state for pack_id in (outside, unknown)} == {"failed"}
    assert desk.row(outside).error_code in {"crop-outside", "spec-invalid"}
    assert desk.row(unknown).error_code == "sheet-format-unknown"
    desk.check()


@pytest.mark.usefixtures("real_reference")
def test_cancelling_works_while_making(
    settings: Settings, desk: Any, start_worker: StartWorker
) -> None:
    start_worker(replace(settings, workers=1))
    mural = {"support": {"width_mm": 2000, "height_mm": 1500}}
    (pack_id,) = desk.ask(**mural)
    wait_until(lambda: desk.row(pack_id).done >= 2)
    row = desk.row(pack_id)
    assert row.done < row.total
    desk.ledger.cancel_or_delete(pack_id, "local")
    desk.wait_ended()
    assert desk.row(pack_id).done < desk.row(pack_id).total
    assert desk.row(pack_id).state == "cancelled"
    desk.check()
