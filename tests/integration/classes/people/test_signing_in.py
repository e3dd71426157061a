"""Browsers: signed in by a cookie of their own, signed out for good, or when nobody uses them."""

from __future__ import annotations

import time
from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.clock import Clock
from tests.integration.classes.studio import Studio
from worker.errors import StorageFull
from worker.store.ledger import DAY_S


def browser(studio: Studio, name: str = "tutor A") -> FlaskClient:
    """A browser that somebody has signed in."""
    client = studio.app.test_client()
    assert client.post("/v1/sign-in", json={"key": studio.keys[name]}).status_code == 200
    return client


def cookie(client: FlaskClient) -> str:
    """What a browser keeps."""
    held = client.get_cookie("ricalco_key")
    return held.value if held else ""


def listed(client: FlaskClient) -> list[dict[str, Any]]:
    """Keys and browsers, as their owner is shown them."""
    return list(client.get("/v1/me/keys").json["items"])


def test_signing_out_withdraws_what_the_browser_kept(studio: Studio) -> None:
    one, other = browser(studio), browser(studio)
    kept = cookie(one)
    assert kept.startswith("rcs_")
    left = one.delete("/v1/sign-in")
    assert left.status_code == 204
    assert left.headers["Clear-Site-Data"] == '"cache", "storage"'
    assert cookie(one) == ""
    # Who copied the cookie before has nothing of it.
    thief = studio.app.test_client()
    thief.set_cookie("ricalco_key", kept)
    assert thief.get("/v1/me").json["code"] == "key-unknown"
    assert other.get("/v1/me").status_code == 200
    assert studio.asker("tutor A").ask("GET", "/v1/me").status_code == 200
    assert one.delete("/v1/sign-in").status_code == 204


def test_what_a_browser_keeps_is_for_its_cookie_alone(studio: Studio) -> None:
    client = browser(studio)
    stolen = {"Authorization": f"Bearer {cookie(client)}"}
    plain = studio.app.test_client(use_cookies=False)
    assert plain.get("/v1/me", headers=stolen).json["code"] == "key-unknown"
    again = plain.post("/v1/sign-in", json={"key": cookie(client)})
    assert (again.status_code, again.json["code"]) == (401, "key-unknown")


def test_a_browser_is_signed_out_when_it_is_not_used(studio: Studio) -> None:
    clock = Clock(time.time())
    studio.context.ledger.people._clock = clock
    used, unused = browser(studio), browser(studio)
    days = studio.context.settings.sign_in_days
    for _ in range(3):
        clock.now += (days - 1) * DAY_S
        answer = used.get("/v1/me")
        assert answer.status_code == 200
        # The cookie lasts anew with it.
        assert f"Max-Age={days * 24 * 3600}" in answer.headers["Set-Cookie"]
    assert unused.get("/v1/me").json["code"] == "key-unknown"


def test_browsers_are_listed_and_one_signs_another_out(studio: Studio) -> None:
    here, lost = browser(studio), browser(studio)
    assert lost.get("/v1/me").status_code == 200
    found = listed(here)
    assert [one["here"] for one in found].count(True) == 1
    browsers = [one for one in found if one["kind"] == "browser"]
    assert len(browsers) == 2
    assert all(one["ends_at"] and one["last_used_at"] for one in browsers)
    assert {one["ends_at"] for one in found if one["kind"] == "key"} == {None}
    (other,) = [one for one in browsers if not one["here"]]
    assert here.delete(f"/v1/me/keys/{other['id']}").status_code == 204
    assert lost.get("/v1/me").json["code"] == "key-unknown"
    assert here.get("/v1/me").status_code == 200


def test_a_withdrawn_key_signs_out_the_browsers_that_came_in_with_it(studio: Studio) -> None:
    tutor = studio.asker("tutor A")
    second = tutor.made("/v1/me/keys", {"label": "tablet"})
    studio.keys["tablet"] = second["key"]
    tablet = browser(studio, "tablet")
    assert tutor.ask("DELETE", f"/v1/me/keys/{second['key_id']}").status_code == 204
    assert tablet.get("/v1/me").json["code"] == "key-unknown"


def test_a_new_key_for_a_student_signs_the_lost_phone_out(studio: Studio) -> None:
    phone = browser(studio, "student A1")
    path = f"/v1/classes/{studio.ids['class_id A']}/student-keys/{studio.ids['student_id A1']}"
    studio.asker("tutor A").made(path, {})
    assert phone.get("/v1/me").json["code"] == "key-unknown"


def test_joining_leaves_a_sign_in_and_signing_out_frees_no_place(studio: Studio) -> None:
    phone = studio.app.test_client()
    wish = {"code": studio.ids["code A"], "name": "Free A"}
    joined = phone.post("/v1/join", json=wish)
    assert joined.status_code == 201
    assert cookie(phone).startswith("rcs_")
    assert joined.json["key"].startswith("rck_")
    phone.delete("/v1/sign-in")
    # Nobody takes their place, and finds their photos, because they signed out.
    again = studio.app.test_client().post("/v1/join", json=wish)
    assert (again.status_code, again.json["code"]) == (409, "name-taken")


def test_a_key_is_shown_also_where_no_sign_in_can_be_written(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is shown once: an answer without it would lock out who has just joined."""

    def refuse(_key_id: str) -> None:
        raise StorageFull("The disk is full.")

    monkeypatch.setattr(studio.context.ledger.people, "sign_in", refuse)
    phone = studio.app.test_client()
    joined = phone.post("/v1/join", json={"code": studio.ids["code A"], "name": "Free A"})
    assert joined.status_code == 201
    key = {"Authorization": f"Bearer {joined.json['key']}"}
    assert phone.get("/v1/me", headers=key).status_code == 200


def test_whoever_signs_in_signs_out_who_was_there(studio: Studio) -> None:
    client = browser(studio, "student A1")
    first = cookie(client)
    assert client.post("/v1/sign-in", json={"key": studio.keys["student A2"]}).status_code == 200
    assert studio.context.ledger.people.opened_by(first) is None


def test_a_browser_that_kept_the_key_itself_gets_a_sign_in(studio: Studio) -> None:
    """As browsers did before there were sign-ins."""
    old = studio.app.test_client()
    old.set_cookie("ricalco_key", studio.keys["student A1"])
    assert old.get("/v1/me").status_code == 200
    assert cookie(old).startswith("rcs_")
    assert old.get("/v1/me").status_code == 200
    assert len([one for one in listed(old) if one["kind"] == "browser"]) == 2
