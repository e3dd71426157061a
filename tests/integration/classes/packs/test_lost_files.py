"""Files that are gone from the disk: told as such, never left out of a stack unnoticed."""

from __future__ import annotations

import shutil
from typing import Any

import pytest

from tests.integration.classes.studio import SPEC, Asker, Studio
from worker.jobs.upkeep.missing_files import MissingFiles


def lose(studio: Studio, kind: str, id_: str) -> None:
    """What somebody who tidies a folder does, or a copy that lacks the newest."""
    shutil.rmtree(studio.folder / "files" / kind / id_)


def fetched(asker: Asker, path: str) -> int:
    """The status of a file that is not read."""
    with asker.ask("GET", path) as answer:
        return answer.status_code


def a_sheet(asker: Asker, pack: str) -> str:
    """Where a pack's first sheet is."""
    document = asker.ask("GET", f"/v1/packs/{pack}").json
    return str(document["files"]["sheets"][0]["pdf"]).removeprefix(f"/v1/packs/{pack}/")


def told(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.json["code"]


def test_a_pack_whose_files_are_gone_says_so_and_is_made_again(studio: Studio) -> None:
    student, pack = studio.asker("student A1"), studio.ids["pack_id A"]
    sheet = a_sheet(student, pack)
    lose(studio, "packs", pack)
    for _ in range(2):
        for name in ("pack.pdf", "map.png", sheet):
            answer = student.ask("GET", f"/v1/packs/{pack}/{name}")
            assert told(answer) == (410, "files-missing")
            assert "make it again" in answer.json["detail"]
    document = student.ask("GET", f"/v1/packs/{pack}").json
    assert (document["state"], document["error"]["code"]) == ("failed", "files-missing")
    assert "files" not in document
    again = studio.ask_for_pack("student A1", studio.ids["reference_id A"])
    studio.make_packs()
    assert fetched(student, f"/v1/packs/{again}/pack.pdf") == 200
    assert student.ask("DELETE", f"/v1/packs/{pack}").status_code == 204


def test_upkeep_notices_before_anybody_asks(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("worker.jobs.upkeep.missing_files._CHUNK", 1)
    ledger = studio.context.ledger
    round_ = MissingFiles(ledger, studio.context.storage)
    packs = sum(len(ledger.made_after(start, 1000)) for start in [""])
    assert sum(round_.check_some() for _ in range(packs + 1)) == 0
    lose(studio, "packs", studio.ids["pack_id A"])
    assert sum(round_.check_some() for _ in range(packs + 1)) == 1
    assert sum(round_.check_some() for _ in range(packs + 1)) == 0
    row = ledger.pack(studio.ids["pack_id A"], studio.ids["student_id A1"])
    assert (row.state, row.error_code) == ("failed", "files-missing")


def test_a_disk_that_is_not_there_fails_no_pack(studio: Studio) -> None:
    files = studio.folder / "files"
    files.rename(studio.folder / "unmounted")
    files.mkdir()
    path = f"/v1/packs/{studio.ids['pack_id A']}"
    student = studio.asker("student A1")
    # Neither the pack nor the photo is said to be gone, and nothing is to be made or sent again.
    assert told(student.ask("GET", f"{path}/pack.pdf")) == (503, "storage-unavailable")
    wish = {"reference_id": studio.ids["reference_id A"], "spec": SPEC}
    assert told(student.ask("POST", "/v1/packs", json=wish)) == (503, "storage-unavailable")
    assert MissingFiles(studio.context.ledger, studio.context.storage).check_some() > 0
    shutil.rmtree(files)
    (studio.folder / "unmounted").rename(files)
    assert student.ask("GET", path).json["state"] == "ready"
    assert fetched(student, f"{path}/pack.pdf") == 200


def test_nothing_is_made_of_a_photo_whose_files_are_gone(studio: Studio) -> None:
    student, reference = studio.asker("student A1"), studio.ids["reference_id A"]
    # Planned with a moment ago, so that its study is in memory.
    wish = {"reference_id": reference, "spec": SPEC}
    assert student.ask("POST", "/v1/plans", json=wish).status_code == 200
    lose(studio, "references", reference)
    corners = {"corners": [[0, 0], [1, 0], [1, 1], [0, 1]]}
    for path, body in (
        ("/v1/plans", wish),
        ("/v1/previews", wish),
        ("/v1/packs", wish),
        (f"/v1/references/{reference}/squared", corners),
    ):
        answer = student.ask("POST", path, json=body)
        assert told(answer) == (410, "reference-gone"), path
        assert "send the photo again" in answer.json["detail"]
    pack = studio.ids["pack_id A"]
    sheet = student.ask("GET", f"/v1/packs/{pack}/{a_sheet(student, pack)}")
    assert told(sheet) == (410, "reference-gone")
    # What was made is there still.
    assert fetched(student, f"/v1/packs/{studio.ids['pack_id A']}/pack.pdf") == 200


def test_a_photo_whose_files_are_gone_is_sent_again(studio: Studio) -> None:
    student = studio.asker("student A2")
    first = studio.send_photo("student A2", 9)
    sha256 = studio.context.ledger.reference(first, studio.ids["student_id A2"]).sha256
    find = f"/v1/references?sha256={sha256}"
    assert [one["id"] for one in student.ask("GET", find).json["items"]] == [first]
    lose(studio, "references", first)
    assert student.ask("GET", find).json["items"] == []
    assert told(student.ask("GET", f"/v1/references/{first}/preview.jpg")) == (
        410,
        "reference-gone",
    )
    second = studio.send_photo("student A2", 9)
    assert [one["id"] for one in student.ask("GET", find).json["items"]] == [second]


@pytest.mark.parametrize("what", ["archive.zip", "print-run/iso_a4_210x297mm.pdf"])
def test_a_stack_is_not_sent_without_the_lost_pack(studio: Studio, what: str) -> None:
    tutor, batch = studio.asker("tutor A"), f"/v1/batches/{studio.ids['batch_id A']}"
    item = next(one for one in tutor.ask("GET", batch).json["items"] if one["pack_id"])
    lose(studio, "packs", item["pack_id"])
    answer = tutor.ask("GET", f"{batch}/{what}")
    assert told(answer) == (410, "files-missing")
    assert "Student A1" in answer.json["detail"]
