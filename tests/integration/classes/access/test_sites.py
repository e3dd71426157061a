"""A course site from its making to its end: limits, keys, log, sessions."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.access import identity
from service.access.rules import RULES
from service.access.scopes import SESSION_NEEDS, SITE_NEEDS
from service.http.errors import OriginRefused
from service.runtime.limits.session_rate import BURST
from tests.integration.classes.studio import ORIGIN, TITLES, Studio
from worker.store.ledger import DEFAULT_SCOPES, SCOPES, SESSION_SCOPES

DAY = timedelta(days=1)


def session(studio: Studio, **wish: Any) -> Any:
    """The answer to a request for a session of A1."""
    body = {"student_id": studio.ids["student_id A1"], "origin": ORIGIN, **wish}
    return studio.asker("site A").ask("POST", "/v1/sessions", json=body)


def who(studio: Studio, token: str, **headers: str) -> Any:
    """What a request with this token is answered."""
    sent = {"Authorization": f"Bearer {token}", **headers}
    return studio.app.test_client().get("/v1/me", headers=sent)


# Limits.


def test_a_site_that_is_only_named_may_delete_nothing(studio: Studio) -> None:
    made = studio.asker("tutor A").made("/v1/sites", {"name": "Pages"})
    site = made["site"]
    assert site["scopes"] == list(DEFAULT_SCOPES)
    assert not {one for one in site["scopes"] if "delete" in one}
    assert set(site["class_ids"]) >= {studio.ids["class_id A"]}
    assert site["origins"] == []
    ahead = datetime.fromisoformat(site["expires_at"]) - datetime.now(UTC)
    assert timedelta(days=364) < ahead <= timedelta(days=365)
    assert "Students stay" in site["when_deleted"]
    studio.keys["pages"] = made["key"]
    for path in (f"/v1/classes/{studio.ids['class_id A']}/students/{studio.ids['student_id A1']}",):
        refused = studio.asker("pages").ask("DELETE", path)
        assert (refused.status_code, refused.json["code"]) == (403, "scope-missing")
        assert "delete-students" in refused.json["detail"]
        assert 'scope="delete-students"' in refused.headers["WWW-Authenticate"]


def test_no_scope_lets_a_site_make_or_delete_a_class(studio: Studio) -> None:
    asker = studio.asker("site A")
    for method, path in (
        ("POST", "/v1/classes"),
        ("DELETE", f"/v1/classes/{studio.ids['class_id A']}"),
        ("POST", "/v1/sites"),
        ("GET", "/metrics"),
    ):
        body = {"json": {}} if method == "POST" else {}
        assert asker.ask(method, path, **body).json["code"] == "not-allowed"


def test_a_site_without_change_class_does_not_see_the_join_code(studio: Studio) -> None:
    """With it, it could join in a student's place and keep the key."""
    class_id = studio.ids["class_id A"]
    for path in (f"/v1/classes/{class_id}", f"/v1/classes/{class_id}/board", "/v1/classes"):
        assert studio.ids["code A"] in studio.asker("site A").ask("GET", path).text
        assert studio.ids["code A"] not in studio.asker("site A reads").ask("GET", path).text


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"name": ""}, "name"),
    ({"name": "x", "scopes": ["everything"]}, "scopes.0"),
    ({"name": "x", "scopes": []}, "scopes"),
    ({"name": "x", "scopes": ["read-class", "read-class"]}, "scopes"),
    ({"name": "x", "origins": ["https://course.example/"]}, "origins.0"),
    ({"name": "x", "origins": ["*"]}, "origins.0"),
    ({"name": "x", "class_ids": []}, "class_ids"),
    ({"name": "x", "class_ids": ["Friday"]}, "class_ids.0"),
    ({"name": "x", "expires_at": "2001-01-01T00:00:00Z"}, "expires_at"),
    ({"name": "x", "expires_at": "2900-01-01T00:00:00Z"}, "expires_at"),
    ({"name": "x", "power": "all"}, "power"),
]


def test_what_is_wrong_with_a_site_is_named(studio: Studio) -> None:
    for body, field in WRONG:
        answer = studio.asker("tutor A").ask("POST", "/v1/sites", json=body)
        assert (answer.status_code, answer.json["field"]) == (422, field), answer.text
    foreign = {"name": "x", "class_ids": [studio.ids["class_id B"]]}
    answer = studio.asker("tutor A").ask("POST", "/v1/sites", json=foreign)
    assert (answer.status_code, answer.json["field"]) == (404, "class_ids")


def test_what_is_taken_from_a_site_is_gone_at_once(studio: Studio) -> None:
    path, asker = f"/v1/sites/{studio.ids['site A']}", studio.asker("site A")
    class_path = f"/v1/classes/{studio.ids['class_id A']}"
    assert asker.ask("GET", class_path).status_code == 200
    changed = studio.asker("tutor A").ask("PATCH", path, json={"scopes": ["add-students"]})
    assert changed.json["scopes"] == ["add-students"]
    assert asker.ask("GET", class_path).json["code"] == "scope-missing"
    soon = (datetime.now(UTC) + DAY).isoformat()
    assert studio.asker("tutor A").ask("PATCH", path, json={"expires_at": soon}).status_code == 200
    assert studio.asker("tutor A").ask("GET", path).json["expired"] is False


def test_a_site_whose_time_is_over_says_so(studio: Studio) -> None:
    tutor = studio.asker("tutor A").ask("GET", "/v1/me").json["person"]["id"]
    studio.context.ledger.sites.change(studio.ids["site A"], tutor, {"expires_at": time.time() - 1})
    refused = studio.asker("site A").ask("GET", "/v1/me")
    assert (refused.status_code, refused.json["code"]) == (401, "site-expired")
    refused = studio.asker("session A1").ask("GET", "/v1/me")
    assert (refused.status_code, refused.json["code"]) == (401, "session-ended")
    shown = studio.asker("tutor A").ask("GET", f"/v1/sites/{studio.ids['site A']}").json
    assert shown["expired"] is True


# Keys.


def test_keys_overlap_while_they_are_changed(studio: Studio) -> None:
    path = f"/v1/sites/{studio.ids['site A']}/keys"
    tutor = studio.asker("tutor A")
    made = tutor.made(path, {"label": "from autumn"})
    studio.keys["site A anew"] = made["key"]
    for name in ("site A", "site A anew"):
        assert studio.asker(name).ask("GET", "/v1/me").json["person"]["id"] == made["site"]["id"]
    listed = tutor.ask("GET", path).json["items"]
    assert {one["label"] for one in listed} == {"site A", "from autumn"}
    assert all(one["last_used_at"] for one in listed)
    assert "rck_" not in tutor.ask("GET", path).text
    # Its sessions end with the old key; others start with the new one.
    assert who(studio, studio.keys["session A1"]).status_code == 200
    assert tutor.ask("DELETE", f"{path}/{studio.ids['key of site A']}").status_code == 204
    assert studio.asker("site A").ask("GET", "/v1/me").json["code"] == "key-unknown"
    assert who(studio, studio.keys["session A1"]).json["code"] == "session-ended"
    assert studio.asker("site A anew").ask("GET", "/v1/me").status_code == 200


def test_a_sites_key_is_for_its_server(studio: Studio) -> None:
    answer = studio.asker("nobody").ask("POST", "/v1/sign-in", json={"key": studio.keys["site A"]})
    assert (answer.status_code, answer.json["field"]) == (401, "key")
    page = {"Origin": ORIGIN, "Authorization": f"Bearer {studio.keys['site A']}"}
    refused = studio.app.test_client().get("/v1/classes", headers=page)
    assert (refused.status_code, refused.json["code"]) == (403, "origin-refused")


# Sessions.


def test_a_student_works_in_a_session_and_sees_only_their_own(studio: Studio) -> None:
    started = session(studio)
    assert started.status_code == 201
    told = started.json
    assert told["token"].startswith("rct_")
    lasts = datetime.fromisoformat(told["ends_at"]) - datetime.fromisoformat(told["created_at"])
    assert lasts == timedelta(minutes=10)
    me = who(studio, told["token"]).json
    assert me["person"]["id"] == studio.ids["student_id A1"]
    assert me["session"]["origin"] == ORIGIN
    assert "token" not in me["session"]
    # The limits of the class are those of any of its students.
    assert me["usage"]["photos"] == 1
    studio.keys["now"] = told["token"]
    photo = studio.send_photo("now", 77)
    pack = studio.ask_for_pack("now", photo)
    assert studio.asker("student A1").ask("GET", f"/v1/packs/{pack}").status_code == 200
    assert studio.asker("student A2").ask("GET", f"/v1/packs/{pack}").status_code == 404


def test_a_session_is_renewed_by_its_site_and_ends_when_told(studio: Studio) -> None:
    first = session(studio, scopes=["fetch-packs"]).json
    renewed = studio.asker("site A").ask("POST", first["links"]["renewals"])
    assert renewed.status_code == 201
    assert renewed.json["scopes"] == ["fetch-packs"]
    assert renewed.json["token"] != first["token"]
    # In between, requests that are under way with the first are answered.
    assert who(studio, first["token"]).status_code == 200
    assert studio.asker("site A").ask("DELETE", first["links"]["self"]).status_code == 204
    assert who(studio, first["token"]).json["code"] == "session-ended"
    assert who(studio, renewed.json["token"]).status_code == 200
    assert studio.asker("site A").ask("POST", first["links"]["renewals"]).status_code == 404
    own = {"Authorization": f"Bearer {renewed.json['token']}"}
    refused = studio.app.test_client().post(renewed.json["links"]["renewals"], headers=own)
    assert refused.json["code"] == "not-allowed"


def test_what_is_wrong_with_a_session_is_named(studio: Studio) -> None:
    for wish, told in (
        ({"origin": "https://elsewhere.example"}, (422, "request-invalid", "origin")),
        ({"student_id": studio.ids["student_id B1"]}, (404, "not-found", "student_id")),
        ({"scopes": ["delete-students"]}, (422, "request-invalid", "scopes.0")),
        ({"scopes": []}, (422, "request-invalid", "scopes")),
    ):
        answer = session(studio, **wish)
        assert (answer.status_code, answer.json["code"], answer.json["field"]) == told
    tutor, path = studio.asker("tutor A"), f"/v1/sites/{studio.ids['site A']}"
    tutor.ask("PATCH", path, json={"scopes": ["start-sessions", "fetch-packs"]})
    answer = session(studio)
    told = (403, "scope-missing", "scopes")
    assert (answer.status_code, answer.json["code"], answer.json["field"]) == told


ENDS: dict[str, tuple[str, str]] = {
    "its student is deleted": ("DELETE", "/v1/classes/{class_id A}/students/{student_id A1}"),
    "its site is deleted": ("DELETE", "/v1/sites/{site A}"),
    "its key is withdrawn": ("DELETE", "/v1/sites/{site A}/keys/{key of site A}"),
    "its class is deleted": ("DELETE", "/v1/classes/{class_id A}"),
}


@pytest.mark.parametrize("what", ENDS)
def test_a_session_ends_at_once_when(studio: Studio, what: str) -> None:
    token = session(studio).json["token"]
    assert who(studio, token).status_code == 200
    method, path = ENDS[what]
    answer = studio.asker("tutor A").ask(method, path.format_map(studio.ids))
    assert answer.status_code == 204
    refused = who(studio, token)
    assert (refused.status_code, refused.json["code"]) == (401, "session-ended")


def test_a_session_ends_after_ten_minutes(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    before = time.time()
    token = session(studio).json["token"]
    after = time.time()
    ledger = studio.context.ledger.sessions
    monkeypatch.setattr(ledger, "_clock", lambda: before + 599)
    assert who(studio, token).status_code == 200
    monkeypatch.setattr(ledger, "_clock", lambda: after + 601)
    assert who(studio, token).json["code"] == "session-ended"


def asked_from(studio: Studio, origin: str | None) -> str:
    """Who is found to ask, past the guard of origins."""
    headers = {"Authorization": f"Bearer {studio.keys['session A1']}", "Host": "localhost"}
    headers |= {} if origin is None else {"Origin": origin}
    with studio.app.test_request_context("/v1/me", headers=headers):
        identity.check_asking_page()
        return identity.who_asks().id


def test_a_token_opens_from_its_own_origin_and_from_our_page(studio: Studio) -> None:
    for origin in (None, ORIGIN, "http://localhost"):
        assert asked_from(studio, origin) == studio.ids["student_id A1"]


def test_a_token_opens_from_no_other_origin(studio: Studio) -> None:
    for origin in (
        "https://elsewhere.example",
        "http://course.example",
        "https://course.example:8443",
        "https://course.example.elsewhere.example",
        "null",
    ):
        with pytest.raises(OriginRefused):
            asked_from(studio, origin)


def test_a_token_is_no_sign_in(studio: Studio) -> None:
    token = studio.keys["session A1"]
    client = studio.app.test_client()
    client.set_cookie("ricalco_key", token)
    assert client.get("/v1/me").status_code == 401
    assert client.post("/v1/sign-in", json={"key": token}).status_code == 401


def test_a_flood_of_sessions_is_told_to_wait(studio: Studio) -> None:
    for _ in range(BURST):
        try:
            studio.context.session_rate.take(studio.ids["site A"])
        except Exception:  # noqa: BLE001 - furnishing the studio has taken some.
            break
    refused = session(studio)
    assert (refused.status_code, refused.json["code"]) == (429, "too-many-sessions")
    assert int(refused.headers["Retry-After"]) >= 1


# What it did.


def test_what_a_site_did_is_read_by_the_classs_tutors(studio: Studio) -> None:
    site, ids = studio.asker("site A"), studio.ids
    site.ask("GET", f"/v1/packs/{ids['pack_id A']}/pack.pdf").close()
    site.ask("GET", f"/v1/classes/{ids['class_id A']}/board").close()
    site.ask(
        "PUT",
        f"/v1/classes/{ids['class_id A']}/students/by-external-id/anna@school.example",
        json={"name": "Anna"},
    )
    studio.asker("session A1").ask("DELETE", f"/v1/packs/{ids['pack_id A']}")
    for name in ("tutor A", "second A"):
        path = f"/v1/classes/{ids['class_id A']}/site-log"
        answer = studio.asker(name).ask("GET", path)
        lines = answer.json["items"]
        done = [(one["action"], one["session_id"] is not None) for one in lines]
        assert done[:3] == [
            ("delete_pack", True),
            ("put_student_by_external_id", False),
            ("get_pack_pdf", False),
        ]
        assert lines[0]["about"] == lines[2]["about"] == ids["pack_id A"]
        assert {one["site_id"] for one in lines} == {ids["site A"]}
        assert answer.json["kept_days"] == 120
        for secret in ("anna", "Anna", "Student", "rct_", "rck_", *TITLES):
            assert secret not in answer.text


def test_it_can_still_be_read_when_the_site_is_gone(studio: Studio) -> None:
    ids = studio.ids
    assert studio.asker("tutor A").ask("DELETE", f"/v1/sites/{ids['site A']}").status_code == 204
    path = f"/v1/classes/{ids['class_id A']}/site-log"
    assert studio.asker("tutor A").ask("GET", path).json["items"]
    # Its students are there with their packs, and the ids that it had for them are not.
    names = [
        one["name"]
        for one in studio.asker("tutor A")
        .ask("GET", f"/v1/classes/{ids['class_id A']}/students")
        .json["items"]
    ]
    assert "Known A" in names
    assert studio.asker("student A1").ask("GET", f"/v1/packs/{ids['pack_id A']}").status_code == 200


# People.


def test_a_student_is_put_once_whatever_they_are_called(studio: Studio) -> None:
    roster = f"/v1/classes/{studio.ids['class_id A']}/students"
    site = studio.asker("site A")
    made = [
        site.ask("PUT", f"{roster}/by-external-id/{external}", json={"name": "Ann Lee"})
        for external in ("a%2Fb%20c%C3%A9", "a", "https:%2F%2Fid.example%2F7", "a")
    ]
    assert [one.status_code for one in made] == [201, 201, 201, 200]
    assert len({one.json["id"] for one in made}) == 3
    assert made[0].json["external_id"] == "a/b cé"
    found = site.ask("GET", f"{roster}/by-external-id/a%2Fb%20c%C3%A9")
    assert found.json == made[0].json
    known = {one.get("external_id") for one in site.ask("GET", roster).json["items"]}
    assert known >= {"a/b cé", "a", "https://id.example/7", "u-1"}
    # Another issuer has ids of its own, and does not see these.
    assert "external_id" not in studio.asker("tutor A").ask("GET", roster).text
    missing = site.ask("GET", f"{roster}/by-external-id/nobody")
    assert (missing.status_code, missing.json["field"]) == (404, "external_id")
    wrong = site.ask("PUT", f"{roster}/by-external-id/a", json={})
    assert (wrong.status_code, wrong.json["field"]) == (422, "name")
    assert site.ask("GET", f"{roster}/by-external-id/{'a' * 256}").status_code == 404


def test_their_own_external_ids_are_in_a_students_export(studio: Studio) -> None:
    roster = f"/v1/classes/{studio.ids['class_id A']}/students"
    put = studio.asker("site A").ask("PUT", f"{roster}/by-external-id/u-9", json={"name": "Eve"})
    assert studio.context.ledger.external_ids.of_person(put.json["id"]) == ("u-9",)


def test_tutors_are_added_and_removed_by_who_may(studio: Studio) -> None:
    path = f"/v1/classes/{studio.ids['class_id A']}/tutors"
    brought = studio.asker("site A").ask("PUT", f"{path}/by-external-id/t-1", json={"name": "Cem"})
    assert brought.status_code == 201
    again = studio.asker("site A").ask("PUT", f"{path}/by-external-id/t-1", json={"name": "Cem"})
    assert (again.status_code, again.json) == (200, brought.json)
    listed = studio.asker("second A").ask("GET", path).json["items"]
    assert [(one["name"], one["owns"]) for one in listed] == [
        ("Tutor A", True),
        ("Second A", False),
        ("Cem", False),
    ]
    second = studio.ids["tutor_id A"]
    # A site may neither speak for a tutor who is here already, nor remove one.
    claim = {"tutor_id": second}
    refused = studio.asker("site A").ask("PUT", f"{path}/by-external-id/t-2", json=claim)
    assert (refused.status_code, refused.json["field"]) == (403, "tutor_id")
    assert studio.asker("site A").ask("DELETE", f"{path}/{second}").status_code == 403
    assert studio.asker("second A").ask("DELETE", f"{path}/{brought.json['id']}").status_code == 403
    assert studio.asker("site A").ask("DELETE", f"{path}/{brought.json['id']}").status_code == 204
    assert studio.asker("second A").ask("DELETE", f"{path}/{second}").status_code == 204
    assert studio.asker("second A").ask("GET", path).status_code == 404
    wrong = studio.asker("tutor A").ask("PUT", f"{path}/by-external-id/x", json={})
    assert (wrong.status_code, wrong.json["field"]) == (422, "name")


def test_every_scope_opens_something_and_every_session_scope_too() -> None:
    assert set(SITE_NEEDS.values()) - {None} == set(SCOPES)
    assert set(SESSION_NEEDS.values()) - {None} == set(SESSION_SCOPES)
    assert {one for one in SITE_NEEDS if "site" not in RULES[one]} == set()
    assert {one for one in SESSION_NEEDS if "student" not in RULES[one]} == set()
