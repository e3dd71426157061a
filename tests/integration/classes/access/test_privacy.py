"""Photos are of people: kept for a stated time, deleted whole, given out to their owner."""

from __future__ import annotations

import io
import json
import logging
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.clock import Clock
from tests.integration.classes.studio import TITLES, Studio
from worker.jobs.upkeep.cleanup import delete_expired, remove_orphans
from worker.jobs.upkeep.deletion_lists import write_list
from worker.log_lines import JsonLines
from worker.store.ledger import DAY_S, KEEP_DAYS

NAME = "Wilhelmine Übelacker-Śliwa"


@pytest.fixture
def studio(furnished: Studio, tmp_path: Path) -> Iterator[Studio]:
    """Two tutors with a class each; A1's name is one that is found again."""
    made = furnished.copy(tmp_path / "data")
    path = f"/v1/classes/{made.ids['class_id A']}/students/{made.ids['student_id A1']}"
    made.asker("tutor A").ask("PATCH", path, json={"name": NAME})
    yield made
    made.close()


def traces(studio: Studio, *words: str) -> dict[str, list[str]]:
    """Files of the data folder, by name or content, in which a word is found.

    Deleted ids alone are listed, so that a copy that is put back brings nothing of theirs back:
    those lists are written, as upkeep does every minute, and not looked into.
    """
    write_list(studio.context.ledger, studio.context.storage)
    found: dict[str, list[str]] = {word: [] for word in words}
    for path in studio.folder.rglob("*"):
        if path.is_relative_to(studio.folder / "files" / "deletions"):
            continue
        content = path.read_bytes() if path.is_file() else b""
        for word in words:
            if word.encode() in content or word in path.name:
                found[word].append(str(path.relative_to(studio.folder)))
    return {word: places for word, places in found.items() if places}


def words_of(studio: Studio) -> list[str]:
    """What must be found nowhere once A1 is gone."""
    kinds = ("student_id A1", "reference_id A", "pack_id A")
    return [NAME, TITLES[0], *(studio.ids[kind] for kind in kinds)]


def test_what_is_looked_for_is_found_before_it_is_deleted(studio: Studio) -> None:
    assert set(traces(studio, *words_of(studio))) == set(words_of(studio))


def who_deletes(studio: Studio, by: str) -> None:
    """One of the ways in which A1 is deleted."""
    class_path = f"/v1/classes/{studio.ids['class_id A']}"
    ways = {
        "the student": ("student A1", "/v1/me"),
        "the roster": ("tutor A", f"{class_path}/students/{studio.ids['student_id A1']}"),
        "the class": ("tutor A", class_path),
        "the tutor": ("tutor A", "/v1/me"),
    }
    name, path = ways[by]
    assert studio.asker(name).ask("DELETE", path).status_code == 204


@pytest.mark.parametrize("by", ["the student", "the roster", "the class", "the tutor"])
def test_deleting_is_whole_and_at_once(studio: Studio, by: str) -> None:
    other = studio.ids["pack_id B"]
    # B's pack has the same title, which is B's to keep: it goes first.
    studio.asker("student B1").ask("DELETE", "/v1/me")
    assert traces(studio, other) == {}
    who_deletes(studio, by)
    assert traces(studio, *words_of(studio)) == {}
    assert studio.asker("student A1").ask("GET", "/v1/me").status_code == 401


def test_deleting_oneself_leaves_everybody_else_alone(studio: Studio) -> None:
    who_deletes(studio, "the student")
    for name, path in (
        ("student A2", "/v1/me"),
        ("tutor A", f"/v1/classes/{studio.ids['class_id A']}/board"),
        ("tutor A", f"/v1/batches/{studio.ids['batch_id A']}"),
        ("student B1", f"/v1/packs/{studio.ids['pack_id B']}/pack.pdf"),
    ):
        answer = studio.asker(name).ask("GET", path)
        assert answer.status_code == 200
        answer.close()


def test_the_first_of_all_tutors_may_delete_everything(studio: Studio) -> None:
    for name in ("tutor A", "second A", "tutor B"):
        assert studio.asker(name).ask("DELETE", "/v1/me").status_code == 204
    # Nobody is left: the machine is its user's again, and empty.
    assert studio.asker("nobody").ask("GET", "/v1/me").json["person"]["role"] == "local"
    assert not list(studio.context.storage.keys("references"))
    assert not list(studio.context.storage.keys("packs"))


def test_deleting_a_photo_takes_its_title_out_of_kept_answers(studio: Studio) -> None:
    asker = studio.asker("student A2")
    photo = studio.send_photo("student A2", 9)
    wish = {"reference_id": photo, "spec": {"support": {"width_mm": 100, "height_mm": 80}}}
    answer = asker.ask(
        "POST",
        "/v1/packs",
        json={**wish, "title": TITLES[1]},
        headers={"Idempotency-Key": "once"},
    )
    assert answer.status_code == 202
    assert traces(studio, TITLES[1])
    assert asker.ask("DELETE", f"/v1/references/{photo}").status_code == 204
    assert traces(studio, TITLES[1]) == {}


def test_time_deletes_photos_with_all_that_was_made_from_them(studio: Studio) -> None:
    ledger, storage = studio.context.ledger, studio.context.storage
    start = ledger.reference(studio.ids["reference_id A"], studio.ids["student_id A1"]).created_at
    clock = Clock(start + KEEP_DAYS * DAY_S - 60)
    ledger._clock = clock
    assert delete_expired(ledger, storage) == 0
    clock.now += 3600
    assert delete_expired(ledger, storage) > 0
    ids = [studio.ids[f"{kind} {who}"] for kind in ("reference_id", "pack_id") for who in "AB"]
    assert traces(studio, *ids, studio.ids["batch_id A"], TITLES[0]) == {}
    # The roster is the tutor's, and stays until they delete it.
    assert studio.asker("student A1").ask("GET", "/v1/me").json["person"]["name"] == NAME
    assert not list(storage.keys("references"))
    assert not list(storage.keys("packs"))


def test_a_class_says_how_long_and_may_change_its_mind(studio: Studio) -> None:
    ledger = studio.context.ledger
    path = f"/v1/classes/{studio.ids['class_id A']}"
    answer = studio.asker("tutor A").ask("PATCH", path, json={"settings": {"keep_days": 2}})
    assert answer.status_code == 200
    assert studio.asker("student A1").ask("GET", "/v1/me").json["keep_days"] == 2
    photo = ledger.reference(studio.ids["reference_id A"], studio.ids["student_id A1"])
    assert photo.delete_after == pytest.approx(photo.created_at + 2 * DAY_S)
    ledger._clock = Clock(photo.created_at + 3 * DAY_S)
    delete_expired(ledger, studio.context.storage)
    assert studio.asker("student A1").ask("GET", f"/v1/references/{photo.id}").status_code == 404
    other = studio.asker("student B1").ask("GET", f"/v1/references/{studio.ids['reference_id B']}")
    assert other.status_code == 200


def test_what_died_between_row_and_file_is_removed_as_an_orphan(studio: Studio) -> None:
    ledger, storage = studio.context.ledger, studio.context.storage
    # As if the power went after the commit: nobody deletes the files.
    keys = ledger.people.erase(studio.ids["student_id A1"])
    assert any(key.startswith("packs/") for key in keys)
    remove_orphans(ledger, storage)
    left = [attempt for key in storage.keys("packs") for attempt in storage.keys(key)]
    assert not [key for key in left if studio.ids["pack_id A"] in key]


def test_the_export_has_everything_of_ones_own_and_nothing_else(studio: Studio) -> None:
    answer = studio.asker("student A1").ask("GET", "/v1/me/export")
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        assert archive.testzip() is None
        names = set(archive.namelist())
        told = json.loads(archive.read("data.json"))
    photo, pack = studio.ids["reference_id A"], studio.ids["pack_id A"]
    assert {f"photos/{photo}/preview.jpg", f"photos/{photo}/master.zip"} <= names
    assert f"packs/{pack}/pack.pdf" in names
    assert told["person"]["name"] == NAME
    assert {one["id"] for one in told["references"]} == {photo}
    assert pack in {one["id"] for one in told["packs"]}
    assert "join_code" not in told["class"]
    foreign = [value for key, value in studio.ids.items() if key.endswith(("A2", "B", "B1"))]
    assert not [value for value in foreign if value in json.dumps(told)]


def test_a_tutor_exports_classes_and_rosters(studio: Studio) -> None:
    answer = studio.asker("tutor A").ask("GET", "/v1/me/export")
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        told = json.loads(archive.read("data.json"))
    assert [one["name"] for one in told["classes"]] == ["Class A", "Elsewhere"]
    assert told["classes"][0]["roster"][0]["name"] == NAME
    assert "rck_" not in json.dumps(told)


def test_keys_are_kept_as_hashes_only(studio: Studio) -> None:
    assert traces(studio, *studio.keys.values()) == {}


def test_the_log_knows_no_names_files_titles_codes_or_keys(
    studio: Studio, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    asker = studio.asker("student A2")
    photo = studio.send_photo("student A2", 11)
    studio.ask_for_pack("student A2", photo, TITLES[1])
    studio.make_packs()
    code = studio.ids["code A"]
    asker.ask("GET", f"/v1/join?code={code}")
    joined = asker.ask("POST", "/v1/join", json={"code": code, "name": "Free A"}).json
    asker.ask("POST", "/v1/sign-in", json={"key": "rck_wrong"})
    asker.ask("GET", f"/v1/references/{photo}")
    studio.asker("student A2").ask("DELETE", "/v1/me")
    ledger = studio.context.ledger
    ledger._clock = Clock(4e9)
    delete_expired(ledger, studio.context.storage)
    lines = "\n".join(JsonLines().format(record) for record in caplog.records)
    assert '"/v1/me"' in lines
    secret: list[Any] = [NAME, "Free A", "Student A2", "Leïla", "IMG_0042", *TITLES, photo, code]
    keys = [joined["key"], "rck_", *studio.keys.values(), studio.ids["student_id A2"]]
    written = [word for word in secret + keys if json.dumps(word)[1:-1] in lines or word in lines]
    assert written == []
