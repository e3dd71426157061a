"""Squaring up in a class: whose the new photo is, how long it is kept, and what it counts."""

from __future__ import annotations

import io
import json
import time
import zipfile
from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.integration.classes.studio import SPEC, Studio
from worker.jobs.upkeep.cleanup import delete_expired
from worker.store.ledger import DAY_S, NewPack

CORNERS = {"corners": [[0.1, 0.05], [0.95, 0.1], [0.9, 0.95], [0.05, 0.9]]}


def squared(studio: Studio, name: str, reference_id: str) -> TestResponse:
    return studio.asker(name).ask("POST", f"/v1/references/{reference_id}/squared", json=CORNERS)


def settle(studio: Studio, **change: Any) -> None:
    """Change the settings of A's class."""
    path = f"/v1/classes/{studio.ids['class_id A']}"
    answer = studio.asker("tutor A").ask("PATCH", path, json=change)
    assert answer.status_code == 200, answer.text


@pytest.mark.parametrize("name", ["student A1", "tutor A", "site A"])
def test_it_is_whose_the_photo_is_whoever_asks(studio: Studio, name: str) -> None:
    original = studio.ids["reference_id A"]
    answer = squared(studio, name, original)
    assert answer.status_code == 201, answer.text
    assert answer.json["owner_id"] == studio.ids["student_id A1"]
    assert answer.json["squared_from"] == original
    path = answer.json["links"]["self"]
    assert studio.asker("student A1").ask("GET", path).status_code == 200
    for other in ("student A2", "tutor B", "student B1"):
        assert studio.asker(other).ask("GET", path).status_code == 404


@pytest.mark.parametrize(
    ("name", "whose"),
    [("student A2", "A"), ("tutor B", "A"), ("student B1", "A"), ("site A", "B"), ("tutor A", "B")],
)
def test_a_foreign_photo_is_not_there(studio: Studio, name: str, whose: str) -> None:
    foreign = squared(studio, name, studio.ids[f"reference_id {whose}"])
    absent = squared(studio, name, f"ref_{'A' * 22}")
    assert foreign.status_code == absent.status_code == 404
    assert foreign.data == absent.data


def test_a_photo_that_is_only_lent_is_not_squared_up(studio: Studio) -> None:
    """A student sees the tutor's photo that their pack is made from, and no more."""
    lent = studio.send_photo("tutor A", 77)
    student = studio.ids["student_id A1"]
    tutor = studio.asker("tutor A").ask("GET", "/v1/me").json["person"]["id"]
    pack = NewPack(owner_id=student, reference_id=lent, spec=SPEC, payer_id=tutor)
    studio.context.ledger.enqueue(pack)
    seen = studio.asker("student A1").ask("GET", f"/v1/references/{lent}")
    assert seen.status_code == 200
    assert squared(studio, "student A1", lent).status_code == 404


def test_it_counts_as_a_photo(studio: Studio) -> None:
    original = studio.ids["reference_id A"]
    settle(studio, settings={"photos": 2})
    first = squared(studio, "student A1", original)
    assert first.status_code == 201
    refused = squared(studio, "student A1", original)
    assert (refused.status_code, refused.json["code"]) == (409, "limit-reached")
    assert studio.asker("student A1").ask("DELETE", first.json["links"]["self"]).status_code == 204
    assert squared(studio, "student A1", original).status_code == 201
    # Tutors are bound by none of it.
    assert squared(studio, "tutor A", original).status_code == 201


def test_once_the_class_is_over_nothing_is_squared_up(studio: Studio) -> None:
    settle(studio, closes_at="2020-01-01T00:00:00Z")
    answer = squared(studio, "student A1", studio.ids["reference_id A"])
    assert (answer.status_code, answer.json["code"]) == (409, "class-closed")
    assert squared(studio, "tutor A", studio.ids["reference_id A"]).status_code == 201


def test_it_is_kept_no_longer_than_the_photo(studio: Studio) -> None:
    original = studio.ids["reference_id A"]
    ledger, now = studio.context.ledger, time.time()
    ledger._clock = lambda: now + 3 * DAY_S
    made = squared(studio, "student A1", original).json
    row = ledger.reference(original, studio.ids["student_id A1"])
    assert ledger.reference(made["id"], row.owner_id).delete_after == row.delete_after is not None
    # Also where the tutor changes for how long, counted from when each was made.
    settle(studio, settings={"keep_days": 10})
    after = ledger.reference(made["id"], row.owner_id).delete_after
    until = ledger.reference(original, row.owner_id).delete_after
    assert after is not None
    assert until is not None
    assert after > until
    ledger._clock = lambda: until + 1
    delete_expired(ledger, studio.context.storage)
    assert ledger.known_references([original, made["id"]]) == set()
    for one in (original, made["id"]):
        assert not (studio.folder / "files" / "references" / one).exists()


def test_the_export_has_it(studio: Studio) -> None:
    made = squared(studio, "student A1", studio.ids["reference_id A"]).json
    answer = studio.asker("student A1").ask("GET", "/v1/me/export")
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        told = json.loads(archive.read("data.json"))
        assert f"photos/{made['id']}/master.zip" in archive.namelist()
    assert made in told["references"]
