"""The client's batches: requests, answers and waiting."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import AnswerUnreadable, PapersRefused, WaitedTooLong
from ricalco_client.values import Batch

BATCH = {
    "id": "bat_1",
    "state": "making",
    "counts": {"queued": 2},
    "print_runs": [{"sheet_format": "iso_a4_210x297mm"}],
}


def test_a_batch_is_asked_for_once(ricalco: Ricalco, service: Any) -> None:
    service.answer(BATCH, 202)
    batch = ricalco.batches.create("cls_1", {"title": "Jug"})
    assert (batch.id, batch.state, batch.counts) == ("bat_1", "making", {"queued": 2})
    assert batch.sheet_formats == ("iso_a4_210x297mm",)
    (sent,) = service.asked
    assert sent.url == "http://ricalco.test/v1/classes/cls_1/batches"
    assert len(sent.headers["Idempotency-Key"]) >= 24


def test_a_key_goes_along(ricalco: Ricalco, service: Any) -> None:
    session = ricalco._transport._session
    service.answer({"packs": 2})
    keyed = Ricalco("http://ricalco.test", session, key="rck_x")
    assert keyed.batches.estimate("cls_1", {}) == {"packs": 2}
    assert service.asked[0].headers["Authorization"] == "Bearer rck_x"


def test_waiting_ends_when_every_pack_has_ended(ricalco: Ricalco, service: Any) -> None:
    for answer in (BATCH, BATCH, {**BATCH, "state": "ready"}):
        service.answer(answer)
    seen: list[Batch] = []
    assert ricalco.batches.wait("bat_1", progress=seen.append).state == "ready"
    assert [batch.state for batch in seen] == ["making", "making", "ready"]


def test_waiting_gives_up_in_time(ricalco: Ricalco, service: Any) -> None:
    service.answer(BATCH)
    with pytest.raises(WaitedTooLong):
        ricalco.batches.wait("bat_1", timeout_s=0)


def test_a_table_that_is_refused_is_papers_refused(ricalco: Ricalco, service: Any) -> None:
    problem = {"code": "table-unreadable", "detail": "Line 2: Nobody is called so."}
    service.answer(problem, 422, Content_Type="application/problem+json")
    with pytest.raises(PapersRefused, match="Line 2"):
        ricalco.batches.create("cls_1", {"table": "x"})


def test_what_goes_with_a_table_of_bytes_stands_in_the_query(
    ricalco: Ricalco, service: Any
) -> None:
    service.answer(BATCH, 202)
    wish = {"table": b"Student\nAnn Lee", "title": "Jug & pears", "as_asked": True}
    ricalco.batches.create("cls_1", wish)
    assert service.asked[0].url.endswith("/batches?title=Jug+%26+pears&as_asked=true")


def test_an_answer_that_is_no_batch_is_said_so(ricalco: Ricalco, service: Any) -> None:
    service.answer({"id": "bat_1"})
    with pytest.raises(AnswerUnreadable):
        ricalco.batches.get("bat_1")


def test_a_run_is_fetched_whole(ricalco: Ricalco, service: Any, tmp_path: Path) -> None:
    service.answer(b"%PDF-1.6")
    path = tmp_path / "run.pdf"
    ricalco.batches.download_print_run("bat_1", "iso_a4_210x297mm", path, covers=True)
    assert path.read_bytes() == b"%PDF-1.6"
    assert service.asked[0].url.endswith("/print-run/iso_a4_210x297mm.pdf?covers=true")


def test_a_ticket_is_read_as_json_and_fetched_as_a_file(
    ricalco: Ricalco, service: Any, tmp_path: Path
) -> None:
    service.answer({"pages": 7, "job_attributes": {"sides": "one-sided"}})
    assert ricalco.batches.ticket("bat_1", "na_letter_8.5x11in")["pages"] == 7
    service.answer(b"DEFINE-DEFAULT fidelity true")
    path = tmp_path / "run.ipp"
    ricalco.batches.download_ticket("bat_1", "na_letter_8.5x11in", path, covers=True)
    assert path.read_bytes() == b"DEFINE-DEFAULT fidelity true"
    run = "/batches/bat_1/print-run/na_letter_8.5x11in"
    assert service.asked[0].url.endswith(f"{run}.ticket.json")
    assert service.asked[1].url.endswith(f"{run}.ticket.ipp?covers=true")
    service.answer([1])
    with pytest.raises(AnswerUnreadable):
        ricalco.batches.ticket("bat_1", "na_letter_8.5x11in")
