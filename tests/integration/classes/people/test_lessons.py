"""A lesson: joining until a time, a class's picture, names on sheets, new keys, copies."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from tests.integration.classes.studio import SPEC, Studio
from worker.store.ledger.people.key_links import KEY_LINK_S

FRAMED = {
    "crop": {"left": 0.1, "top": 0.1, "width": 0.6, "height": 0.6},
    "seams": {"protect": [{"left": 0.4, "top": 0.4, "width": 0.1, "height": 0.1}]},
}


def in_s(seconds: float) -> str:
    """A time from now, as JSON has it."""
    return (datetime.now(UTC) + timedelta(seconds=seconds)).isoformat()


def class_of(studio: Studio) -> str:
    """The path of A's class."""
    return f"/v1/classes/{studio.ids['class_id A']}"


def join(studio: Studio) -> Any:
    """Somebody joins A's class."""
    body = {"code": studio.ids["code A"], "name": "Free A"}
    return studio.asker("nobody").ask("POST", "/v1/join", json=body)


def test_joining_closes_by_itself(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    tutor, path = studio.asker("tutor A"), class_of(studio)
    tutor.ask("PATCH", path, json={"joining_open": False})
    opened = tutor.ask("PATCH", path, json={"joining_until": in_s(3600)}).json
    assert (opened["joining_open"], opened["joining_until"] is None) == (True, False)
    clock = time.time
    monkeypatch.setattr(time, "time", lambda: clock() + 3601)
    later = tutor.ask("GET", path).json
    assert (later["joining_open"], later["joining_until"]) == (False, None)
    assert join(studio).json["code"] == "joining-closed"
    monkeypatch.undo()
    # Opened without a time, it stays open.
    assert tutor.ask("PATCH", path, json={"joining_open": True}).json["joining_until"] is None
    assert join(studio).status_code == 201
    for wrong in ({"joining_until": in_s(-1)}, {"joining_until": in_s(9), "joining_open": False}):
        refused = tutor.ask("PATCH", path, json=wrong)
        assert (refused.status_code, refused.json["field"]) == (422, "joining_until")


def test_a_link_gives_one_device_a_key_once(studio: Studio) -> None:
    tutor, nobody = studio.asker("tutor A"), studio.asker("nobody")
    path = f"{class_of(studio)}/student-keys/{studio.ids['student_id A1']}/links"
    first, second = tutor.made(path, None), tutor.made(path, None)
    assert second["qr_svg"].startswith("<svg")
    secrets = [one["url"].partition("#new-key=")[2] for one in (first, second)]
    # Until it is used, the old key opens; the newer link has replaced the first.
    assert studio.asker("student A1").ask("GET", "/v1/me").status_code == 200
    replaced = nobody.ask("POST", "/v1/key-links", json={"secret": secrets[0]})
    assert (replaced.status_code, replaced.json["field"]) == (404, "secret")
    used = nobody.made("/v1/key-links", {"secret": secrets[1], "label": "phone"})
    assert used["person"]["id"] == studio.ids["student_id A1"]
    assert studio.asker("student A1").ask("GET", "/v1/me").status_code == 401
    studio.keys["student A1"] = used["key"]
    assert studio.asker("student A1").ask("GET", "/v1/me").status_code == 200
    again = nobody.ask("POST", "/v1/key-links", json={"secret": secrets[1]})
    assert again.status_code == 404


def test_a_link_to_a_key_ends(studio: Studio) -> None:
    """With its time, with the key that it was asked for with, and for whoever is shut out."""
    student = studio.ids["student_id A1"]
    path = f"{class_of(studio)}/student-keys/{student}/links"
    made = studio.context.ledger.people.tutors()[0].id
    links = studio.context.ledger.key_links

    def uses(secret: str) -> int:
        body = {"secret": secret}
        return studio.asker("nobody").ask("POST", "/v1/key-links", json=body).status_code

    own = studio.context.ledger.people.issue_key(made).access.id
    secret = links.add(student, made_by=made, key_id=own).secret
    studio.context.ledger.people.withdraw_key(made, own)
    assert uses(secret) == 404
    url = studio.asker("tutor A").made(path, None)["url"]
    shut = f"{class_of(studio)}/students/{student}"
    studio.asker("tutor A").ask("PATCH", shut, json={"withdrawn": True})
    assert uses(url.partition("=")[2]) == 404
    studio.asker("tutor A").ask("PATCH", shut, json={"withdrawn": False})
    url = studio.asker("tutor A").made(path, None)["url"]
    links._clock = lambda: time.time() + KEY_LINK_S + 1
    assert uses(url.partition("=")[2]) == 404


def test_students_take_up_the_class_s_picture(studio: Studio) -> None:
    tutor, student = studio.asker("tutor A"), studio.asker("student A2")
    photo = studio.send_photo("tutor A", 77)
    wish = {"reference_id": photo, "spec": {**SPEC, "crop": FRAMED["crop"]}}
    path = f"{class_of(studio)}/picture"
    assert student.ask("POST", "/v1/plans", json=wish).status_code == 404
    set_ = tutor.ask("PUT", path, json={"reference_id": photo, "spec": {**FRAMED, **SPEC}})
    assert set_.status_code == 200, set_.text
    found = student.ask("GET", "/v1/me").json["class"]["picture"]
    assert found["spec"]["seams"] == FRAMED["seams"]
    assert (found["width_px"], found["height_px"]) == (90, 60)
    shown = student.ask("GET", found["preview"])
    assert shown.status_code == 200
    shown.close()
    assert student.ask("POST", "/v1/plans", json=wish).status_code == 200
    made = student.made("/v1/packs", wish)
    # It is the class's, and not theirs to delete; nobody else's class sees it.
    assert student.ask("DELETE", f"/v1/references/{photo}").status_code == 404
    assert studio.asker("student B1").ask("GET", found["preview"]).status_code == 404
    # What outlasts its time is kept as long as the class shows it.
    with studio.context.ledger.people._database.writing() as connection:
        connection.exec_driver_sql("update photos set delete_after = 1 where id = ?", (photo,))
    assert studio.context.ledger.expire() == ()
    assert tutor.ask("DELETE", path).status_code == 204
    assert student.ask("GET", "/v1/me").json["class"]["picture"] is None
    assert f"references/{photo}" in studio.context.ledger.expire()
    assert student.ask("GET", f"/v1/packs/{made['id']}").status_code == 404


@pytest.mark.parametrize(
    ("spec", "field"),
    [
        ({"tone": {"style": "outline"}}, "tone"),
        ({"seams": {"joint": "lap"}}, "seams.joint"),
        ({"rotate_deg": 900}, "rotate_deg"),
        ({**SPEC, "crop": {"left": 0, "top": 0, "width": 0.5, "height": 1}}, "crop"),
    ],
)
def test_a_picture_says_only_how_it_is_framed(studio: Studio, spec: Any, field: str) -> None:
    body = {"reference_id": studio.send_photo("tutor A", 78), "spec": spec}
    refused = studio.asker("tutor A").ask("PUT", f"{class_of(studio)}/picture", json=body)
    assert (refused.status_code, refused.json["field"]) == (422, field), refused.json


def test_a_student_s_photo_is_no_class_s_picture(studio: Studio) -> None:
    body = {"reference_id": studio.ids["reference_id A"]}
    refused = studio.asker("tutor A").ask("PUT", f"{class_of(studio)}/picture", json=body)
    assert (refused.status_code, refused.json["field"]) == (404, "reference_id")


def test_a_copy_has_all_but_the_people(studio: Studio) -> None:
    tutor = studio.asker("tutor A")
    photo = studio.send_photo("tutor A", 79)
    tutor.ask("PUT", f"{class_of(studio)}/picture", json={"reference_id": photo, "spec": FRAMED})
    printer = {"name": "Lab", "format": "iso_a4_210x297mm", "class_id": studio.ids["class_id A"]}
    tutor.made("/v1/printers", printer)
    copied = tutor.made(f"{class_of(studio)}/copies", {"name": "Next term"})
    before = tutor.ask("GET", class_of(studio)).json
    for name in ("settings", "picture"):
        assert copied[name] == before[name]
    assert (copied["joining_open"], copied["closes_at"]) == (False, None)
    assert copied["join_code"] != before["join_code"]
    assert tutor.ask("GET", copied["links"]["students"]).json["items"] == []
    shared = tutor.ask("GET", "/v1/printers").json["items"]
    assert [one["name"] for one in shared if one["class_id"] == copied["id"]] == ["Lab"]
    # A second tutor's copy is theirs, without a photo that is not.
    theirs = studio.asker("second A").made(f"{class_of(studio)}/copies", {"name": "Mine"})
    assert theirs["picture"] is None


def test_a_lost_sheet_is_found_by_its_number(studio: Studio) -> None:
    tutor = studio.asker("tutor A")
    for written in ("7K3F-Q2ZD", "7k3f q2zd"):
        found = tutor.ask("GET", f"{class_of(studio)}/packs?number={written}").json["items"]
        assert "Student A1" in {one["student"]["name"] for one in found if one["student"]}
        assert found[0]["pack"]["files"]["sheets"][0]["label"] == "1·1"
    assert tutor.ask("GET", f"{class_of(studio)}/packs?number=0000-0000").json["items"] == []
    refused = tutor.ask("GET", f"{class_of(studio)}/packs?number=7K3F")
    assert (refused.status_code, refused.json["field"]) == (422, "number")


def test_sheets_carry_the_student_s_name_unless_the_class_says_no(studio: Studio) -> None:
    tutor = studio.asker("tutor A")

    def printed(pack_id: str) -> str | None:
        owner = studio.context.ledger.people.tutors()[0].id
        return studio.context.ledger.pack(pack_id, owner).recipient

    photo = studio.ids["reference_id A"]
    assert printed(studio.ask_for_pack("student A1", photo)) == "Student A1"
    batch = tutor.made(f"{class_of(studio)}/batches", {"title": "Tuesday"})
    item = next(one for one in batch["items"] if one.get("pack_id"))
    assert printed(item["pack_id"]) == item["student"]["name"]
    tutor.ask("PATCH", class_of(studio), json={"settings": {"print_names": False}})
    assert printed(studio.ask_for_pack("student A1", photo)) is None
    # A tutor's own has none.
    assert printed(studio.ask_for_pack("tutor A", studio.send_photo("tutor A", 80))) is None
