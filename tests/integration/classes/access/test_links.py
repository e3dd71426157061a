"""Links to one file: who has one needs no key, and it goes with what it opens."""

from __future__ import annotations

import logging
import time
from datetime import datetime
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.app import create_app
from service.links.schemas import LONGEST_S
from tests.integration.classes.studio import ORIGIN, SPEC, Studio
from worker.log_lines import JsonLines
from worker.settings import Settings
from worker.store.ledger import MOST_LINKS, SESSION_S, LinkRow
from worker.store.ledger.packs.links import REMEMBERED_S

RUN = "print-run/iso_a4_210x297mm.pdf"


def link(studio: Studio, name: str = "student A1", **wish: Any) -> str:
    """The path and query of a link to A1's pack."""
    made = studio.asker(name).made(f"/v1/packs/{studio.ids['pack_id A']}/links", wish)
    assert made["url"].startswith("http://localhost/v1/links/")
    return str(made["url"].removeprefix("http://localhost"))


def fetch(studio: Studio, path: str, method: str = "GET", **headers: str) -> TestResponse:
    """What somebody gets who has the link and no key."""
    return studio.asker("nobody").ask(method, path, headers=headers, buffered=True)


def pass_time(studio: Studio, seconds: float) -> None:
    """Turn the clock by which links end."""
    studio.context.ledger.links._clock = lambda: time.time() + seconds


def test_it_opens_its_file_without_a_key(studio: Studio) -> None:
    path = link(studio)
    answer = fetch(studio, path)
    pack = f"/v1/packs/{studio.ids['pack_id A']}/pack.pdf"
    own = studio.asker("student A1").ask("GET", pack, buffered=True)
    assert (answer.status_code, answer.data, answer.mimetype) == (200, own.data, "application/pdf")
    assert answer.headers["ETag"] == own.headers["ETag"]
    # RFC 9111, 5.2.2: neither a shared cache nor a browser stores it. Referrer Policy (W3C): no
    # page that is opened from it learns the address.
    assert answer.headers["Cache-Control"] == "private, no-store"
    assert answer.headers["Referrer-Policy"] == "no-referrer"


def test_head_and_ranges_work_on_it(studio: Studio) -> None:
    """RFC 9110, 9.3.2 and 14.2."""
    path, whole = link(studio), fetch(studio, link(studio)).data
    head = fetch(studio, path, "HEAD")
    assert (head.status_code, head.data, head.content_length) == (200, b"", len(whole))
    part = fetch(studio, path, Range="bytes=2-4", **{"If-Range": head.headers["ETag"]})
    assert (part.status_code, part.data) == (206, whole[2:5])
    assert part.headers["Content-Range"] == f"bytes 2-4/{len(whole)}"
    assert part.headers["Cache-Control"] == "private, no-store"
    same = fetch(studio, path, **{"If-None-Match": head.headers["ETag"]})
    assert (same.status_code, same.data) == (304, b"")


def test_it_opens_this_one_file_and_nothing_else(studio: Studio) -> None:
    path = link(studio)
    secret = path.partition("?")[2]
    for other in ("map.png", "1-1.pdf", "pack.exe"):
        assert fetch(studio, f"/v1/links/{other}?{secret}").status_code == 404
    pack = f"/v1/packs/{studio.ids['pack_id A']}"
    for other in (pack, f"{pack}/pack.pdf"):
        assert fetch(studio, f"{other}?{secret}").status_code in {401, 422}
        key = {"Authorization": f"Bearer {secret.partition('=')[2]}"}
        assert fetch(studio, other, **key).status_code == 401
    assert fetch(studio, path, "POST").status_code == 405


@pytest.mark.parametrize("file", ["map.png", "picture.jpg", "full-size.pdf"])
def test_every_file_has_links(studio: Studio, file: str) -> None:
    assert fetch(studio, link(studio, file=file)).status_code == 200


def test_a_sheet_and_a_print_run_have_links(studio: Studio) -> None:
    assert link(studio, file="sheets/1-1.png").startswith("/v1/links/1-1.png?secret=rcl_")
    unknown = f"/v1/packs/{studio.ids['pack_id A']}/links"
    answer = studio.asker("student A1").ask("POST", unknown, json={"file": "sheets/26-99.pdf"})
    assert (answer.status_code, answer.json["code"]) == (404, "not-found")
    batch = f"/v1/batches/{studio.ids['batch_id A']}/links"
    made = studio.asker("site A").made(batch, {"file": RUN})
    assert made["url"].startswith("http://localhost/v1/links/iso_a4_210x297mm.pdf?secret=rcl_")
    absent = {"file": "print-run/iso_a3_297x420mm.pdf"}
    assert studio.asker("site A").ask("POST", batch, json=absent).status_code == 404


@pytest.mark.parametrize(
    ("wish", "field"),
    [
        ({"valid_s": LONGEST_S + 1}, "valid_s"),
        ({"valid_s": 0}, "valid_s"),
        ({"valid_s": True}, "valid_s"),
        ({"file": "../ledger.db"}, "file"),
        ({"covers": True}, "covers"),
    ],
)
def test_what_cannot_be_linked_is_refused(studio: Studio, wish: Any, field: str) -> None:
    path = f"/v1/packs/{studio.ids['pack_id A']}/links"
    answer = studio.asker("student A1").ask("POST", path, json=wish)
    assert (answer.status_code, answer.json["field"]) == (422, field)


def test_it_is_over_after_a_quarter_of_an_hour_or_sooner(studio: Studio) -> None:
    short, longest = link(studio, valid_s=60), link(studio)
    pass_time(studio, 61)
    answer = fetch(studio, short)
    assert (answer.status_code, answer.json["code"]) == (410, "link-over")
    assert fetch(studio, longest).status_code == 200
    pass_time(studio, 15 * 60 + 1)
    assert fetch(studio, longest).status_code == 410
    studio.context.ledger._clock = lambda: time.time() + 15 * 60 + REMEMBERED_S + 1
    studio.context.ledger.forget_expired_keys()
    assert fetch(studio, longest).status_code == 404


def gone(studio: Studio, path: str) -> bool:
    """Whether a link opens nothing any more, and says so."""
    answer = fetch(studio, path)
    assert answer.json is None or answer.json["detail"].startswith("This link opens nothing")
    return answer.status_code == 404


@pytest.mark.parametrize("what", ["pack", "photo", "person", "class"])
def test_it_goes_with_what_it_opens(studio: Studio, what: str) -> None:
    path = link(studio)
    deleted = {
        "pack": f"/v1/packs/{studio.ids['pack_id A']}",
        "photo": f"/v1/references/{studio.ids['reference_id A']}",
        "person": "/v1/me",
        "class": f"/v1/classes/{studio.ids['class_id A']}",
    }[what]
    name = "tutor A" if what == "class" else "student A1"
    assert studio.asker(name).ask("DELETE", deleted).status_code == 204
    assert gone(studio, path)


def test_a_print_runs_link_goes_with_the_batch(studio: Studio) -> None:
    batch = f"/v1/batches/{studio.ids['batch_id A']}"
    made = studio.asker("tutor A").made(f"{batch}/links", {"file": RUN})
    path = made["url"].removeprefix("http://localhost")
    assert studio.asker("tutor A").ask("DELETE", batch).status_code == 204
    assert gone(studio, path)


def test_it_goes_with_whoever_made_it(studio: Studio) -> None:
    """A course site that is withdrawn, a key that is, a browser that is signed out."""
    by_site, by_key = link(studio, "site A"), link(studio, "student A1")
    site = f"/v1/sites/{studio.ids['site_id A']}"
    assert studio.asker("tutor A").ask("DELETE", site).status_code == 204
    assert gone(studio, by_site)
    assert not gone(studio, by_key)
    key = f"/v1/classes/{studio.ids['class_id A']}/student-keys/{studio.ids['student_id A1']}"
    by_tutor = link(studio, "tutor A")
    assert studio.asker("tutor A").ask("DELETE", key).status_code == 204
    assert gone(studio, by_key)
    assert not gone(studio, by_tutor)
    browser = studio.app.test_client()
    browser.post("/v1/sign-in", json={"key": studio.keys["tutor A"]})
    made = browser.post(f"/v1/packs/{studio.ids['pack_id A']}/links", json={}).get_json()
    by_browser = made["url"].removeprefix("http://localhost")
    assert not gone(studio, by_browser)
    browser.delete("/v1/sign-in")
    assert gone(studio, by_browser)
    assert not gone(studio, by_tutor)


def test_there_is_none_to_a_pack_that_is_not_made(studio: Studio) -> None:
    asker = studio.asker("student A1")
    wish = {"reference_id": studio.ids["reference_id A"], "spec": SPEC}
    waiting = asker.made("/v1/packs", wish)["id"]
    for _ in range(2):
        answer = asker.ask("POST", f"/v1/packs/{waiting}/links", json={})
        assert (answer.status_code, answer.json["code"]) == (409, "pack-not-ready")
        # Cancelled, it never has a file.
        asker.ask("DELETE", f"/v1/packs/{waiting}")


def test_it_opens_from_pages_of_other_sites(studio: Studio) -> None:
    """Fetch Metadata (W3C): a course's page shows the map, and has no key."""
    said = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "image"}
    answer = fetch(studio, link(studio, file="map.png"), **said)
    assert answer.status_code == 200
    assert answer.headers["Cross-Origin-Resource-Policy"] == "cross-origin"
    own = f"/v1/packs/{studio.ids['pack_id A']}/map.png"
    refused = studio.asker("student A1").ask("GET", own, headers=said)
    assert (refused.status_code, refused.json["code"]) == (403, "origin-refused")


def test_another_web_process_opens_it_too(studio: Studio) -> None:
    path = link(studio)
    other = create_app(Settings(data_dir=studio.folder))
    answer = other.test_client().get(path, buffered=True)
    assert answer.status_code == 200
    other.extensions["ricalco"].ledger.close()


def test_no_log_and_no_file_has_its_secret(
    studio: Studio, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    caplog.set_level(logging.DEBUG)
    path = link(studio)
    secret = path.partition("?secret=")[2]
    fetch(studio, path)
    fetch(studio, f"/v1/links/map.png?secret={secret}")
    refused = fetch(studio, f"{path}x")
    assert (refused.status_code, refused.json["field"]) == (422, "secret")
    assert secret not in refused.text

    def fault(*_: object, **__: object) -> None:
        raise RuntimeError("A fault of the service.")

    with monkeypatch.context() as patch:
        patch.setattr("service.links.views.send_pack_file", fault)
        broken = fetch(studio, path)
    assert (broken.status_code, broken.json["code"]) == (500, "internal-error")
    studio.asker("student A1").ask("DELETE", f"/v1/packs/{studio.ids['pack_id A']}")
    assert gone(studio, path)
    lines = [JsonLines().format(one) for one in caplog.records]
    events = [line for line in lines if '"link-' in line]
    assert len(events) == 2
    assert studio.ids["pack_id A"][:12] in events[1]
    assert "A fault of the service." in "\n".join(lines)
    assert [line for line in lines if secret in line or "rcl_" in line] == []
    files = [one for one in studio.folder.rglob("*") if one.is_file()]
    assert [one for one in files if secret.encode() in one.read_bytes()] == []


def test_links_do_not_fill_the_disk(studio: Studio) -> None:
    links = studio.context.ledger.links
    link(studio, "tutor A")
    maker = studio.asker("tutor A").ask("GET", "/v1/me").json["person"]["id"]
    many = LinkRow(
        made_by=maker,
        key_id=None,
        pack_id=studio.ids["pack_id A"],
        file="map.png",
        ends_at=time.time() + 60,
    )
    for _ in range(MOST_LINKS - 1):
        links.add(many)
    path = f"/v1/packs/{studio.ids['pack_id A']}/links"
    answer = studio.asker("tutor A").ask("POST", path, json={})
    assert (answer.status_code, answer.json["code"]) == (409, "limit-reached")
    pass_time(studio, 61)
    assert studio.asker("tutor A").ask("POST", path, json={}).status_code == 201


def test_a_course_site_that_may_fetch_no_longer_has_no_links(studio: Studio) -> None:
    path, site = link(studio, "site A"), f"/v1/sites/{studio.ids['site_id A']}"
    assert fetch(studio, path).status_code == 200
    changed = studio.asker("tutor A").ask("PATCH", site, json={"scopes": ["read-class"]})
    assert changed.status_code == 200
    assert gone(studio, path)
    pack = f"/v1/packs/{studio.ids['pack_id A']}/links"
    answer = studio.asker("site A").ask("POST", pack, json={})
    assert (answer.status_code, answer.json["code"]) == (403, "scope-missing")


def test_a_link_of_a_session_goes_with_the_sites_key(studio: Studio) -> None:
    path, site = link(studio, "session A1"), f"/v1/sites/{studio.ids['site_id A']}"
    assert fetch(studio, path).status_code == 200
    tutor = studio.asker("tutor A")
    for key in tutor.ask("GET", f"{site}/keys").json["items"]:
        tutor.ask("DELETE", f"{site}/keys/{key['id']}")
    assert gone(studio, path)


@pytest.mark.parametrize(
    "limits",
    [
        {"scopes": ["start-sessions", "make-packs"]},
        {"expires_at": 1.0},
        {"class_ids": []},
        {"origins": ["https://other.example"]},
        None,
    ],
)
def test_a_link_of_a_session_goes_with_what_that_stands_on(
    studio: Studio, limits: dict[str, Any] | None
) -> None:
    """The site's scope, its time, the class that it was given, the origin; the session itself."""
    wish = {"student_id": studio.ids["student_id A1"], "origin": ORIGIN}
    started = studio.asker("site A").made("/v1/sessions", wish)
    studio.keys["session"] = started["token"]
    path, by_key = link(studio, "session"), link(studio, "student A1")
    assert fetch(studio, path).status_code == 200
    if limits is None:
        ended = studio.asker("site A").ask("DELETE", f"/v1/sessions/{started['id']}")
        assert ended.status_code == 204
    else:
        tutor = studio.asker("tutor A").ask("GET", "/v1/me").json["person"]["id"]
        studio.context.ledger.sites.change(studio.ids["site_id A"], tutor, limits)
    assert gone(studio, path)
    # What the student asked for with a key of their own is no matter of the site.
    assert not gone(studio, by_key)


def test_a_link_of_a_session_is_over_with_it(studio: Studio) -> None:
    wish = {"student_id": studio.ids["student_id A1"], "origin": ORIGIN}
    started = studio.asker("site A").made("/v1/sessions", wish)
    studio.keys["session"] = started["token"]
    pack = f"/v1/packs/{studio.ids['pack_id A']}/links"
    made = studio.asker("session").made(pack, {"valid_s": LONGEST_S})
    ends = [datetime.fromisoformat(one["ends_at"]) for one in (made, started)]
    assert abs((ends[0] - ends[1]).total_seconds()) < 1
    path = made["url"].removeprefix("http://localhost")
    pass_time(studio, SESSION_S + 1)
    # It is told so for as long as of other links, although sessions are forgotten sooner.
    studio.context.ledger._clock = lambda: time.time() + SESSION_S + 1
    studio.context.ledger.forget_expired_keys()
    answer = fetch(studio, path)
    assert (answer.status_code, answer.json["code"]) == (410, "link-over")
    studio.context.ledger._clock = lambda: time.time() + SESSION_S + REMEMBERED_S + 1
    studio.context.ledger.forget_expired_keys()
    assert gone(studio, path)
    sessions = studio.context.ledger.sessions
    assert sessions.standing(started["id"]) is None
