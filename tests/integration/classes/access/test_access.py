"""Who gets in where: every route, every role, one's own things and other people's.

The table here was written from the brief and not from the service's own; the routes come
from the application. So a route that nobody thought of fails, and so does a rule that
lets someone in who has no business there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from service.access.rules import RULES
from service.app import create_app
from tests.integration.classes.studio import SPEC, Studio
from worker.errors import SettingInvalid
from worker.settings import Settings

PAGE = Path(__file__).resolve().parents[4] / "client" / "web"
#: Everybody who asks; A1's things are asked for.
ASKERS = (
    "nobody",
    "wrong",
    "tutor A",
    "second A",
    "site A",
    "site A reads",
    "site A elsewhere",
    "student A1",
    "student A2",
    "session A1",
    "session A1 fetches",
    "session A2",
    "tutor B",
    "student B1",
)
MAKE_OWN = "tutor A, second A, site A, student A1, session A1"
FETCH_OWN = f"{MAKE_OWN}, session A1 fetches"
SEE_OWN = f"{FETCH_OWN}, site A reads"
TEACH = "tutor A, second A, site A"
READ = f"{TEACH}, site A reads"
TUTORS = "tutor A, second A, tutor B"
PEOPLE = f"{TUTORS}, student A1, student A2, student B1"
IN_SESSION = "session A1, session A1 fetches, session A2"
SITES = "site A, site A reads, site A elsewhere"
MAKERS = f"{PEOPLE}, site A, site A elsewhere, session A1, session A2"
KEYED = f"{PEOPLE}, {SITES}, {IN_SESSION}"
OPEN = ", ".join(ASKERS)
#: Who may call each route, of those above; where it names a thing, it is A's or A1's.
MAY = {
    "GET /v1/openapi.json": OPEN,
    "GET /v1/docs": OPEN,
    "GET /v1/docs/<name>": OPEN,
    "GET /v1/problems": OPEN,
    "GET /v1/problems/<code>": OPEN,
    "GET /v1/sheet-formats": KEYED,
    "GET /v1/supports": KEYED,
    "GET /healthz": OPEN,
    "GET /readyz": OPEN,
    "GET /metrics": TUTORS,
    "POST /v1/references": MAKERS,
    "GET /v1/references": MAKERS,
    "GET /v1/references/<reference_id>": SEE_OWN,
    "DELETE /v1/references/<reference_id>": MAKE_OWN,
    "POST /v1/references/<reference_id>/squared": MAKE_OWN,
    "GET /v1/references/<reference_id>/preview.jpg": SEE_OWN,
    "POST /v1/plans": MAKE_OWN,
    "POST /v1/previews": MAKE_OWN,
    "POST /v1/grids": MAKE_OWN,
    "POST /v1/grids/picture": MAKE_OWN,
    "POST /v1/packs": MAKE_OWN,
    "GET /v1/packs/<pack_id>": SEE_OWN,
    "PATCH /v1/packs/<pack_id>": MAKE_OWN,
    "DELETE /v1/packs/<pack_id>": MAKE_OWN,
    "GET /v1/packs/<pack_id>/events": SEE_OWN,
    "GET /v1/packs/<pack_id>/pack.pdf": FETCH_OWN,
    "GET /v1/packs/<pack_id>/map.png": FETCH_OWN,
    "GET /v1/packs/<pack_id>/picture.jpg": FETCH_OWN,
    "GET /v1/packs/<pack_id>/thumbnail.jpg": FETCH_OWN,
    "GET /v1/packs/<pack_id>/full-size.pdf": FETCH_OWN,
    "GET /v1/packs/<pack_id>/sheets/<label>.pdf": FETCH_OWN,
    "GET /v1/packs/<pack_id>/sheets/<label>.png": FETCH_OWN,
    "POST /v1/packs/<pack_id>/links": FETCH_OWN,
    "POST /v1/batches/<batch_id>/links": TEACH,
    "GET /v1/links/<file_name>": OPEN,
    "GET /v1/test-page.pdf": KEYED,
    "POST /v1/readings": KEYED,
    "GET /v1/printers": f"{MAKERS}, site A reads, session A1 fetches",
    "POST /v1/printers": MAKERS,
    "GET /v1/printers/<printer_id>": SEE_OWN,
    "PATCH /v1/printers/<printer_id>": MAKE_OWN,
    "DELETE /v1/printers/<printer_id>": MAKE_OWN,
    "POST /v1/tutors": "",
    "POST /v1/sign-in": OPEN,
    "DELETE /v1/sign-in": OPEN,
    "GET /v1/me": KEYED,
    "GET /v1/me/packs": f"{PEOPLE}, {IN_SESSION}",
    "GET /v1/me/export": PEOPLE,
    "DELETE /v1/me": PEOPLE,
    "GET /v1/me/keys": PEOPLE,
    "POST /v1/me/keys": PEOPLE,
    "DELETE /v1/me/keys/<key_id>": "tutor A",
    "GET /v1/sites": TUTORS,
    "POST /v1/sites": TUTORS,
    "GET /v1/sites/<site_id>": "tutor A",
    "PATCH /v1/sites/<site_id>": "tutor A",
    "DELETE /v1/sites/<site_id>": "tutor A",
    "GET /v1/sites/<site_id>/keys": "tutor A",
    "POST /v1/sites/<site_id>/keys": "tutor A",
    "DELETE /v1/sites/<site_id>/keys/<key_id>": "tutor A",
    "GET /v1/sites/<site_id>/log": "tutor A",
    "GET /v1/webhooks": f"{TUTORS}, site A, site A elsewhere",
    "POST /v1/webhooks": f"{TUTORS}, site A, site A elsewhere",
    "GET /v1/webhooks/<webhook_id>": "tutor A, site A",
    "PATCH /v1/webhooks/<webhook_id>": "tutor A, site A",
    "DELETE /v1/webhooks/<webhook_id>": "tutor A, site A",
    "POST /v1/webhooks/<webhook_id>/secrets": "tutor A, site A",
    "GET /v1/webhooks/<webhook_id>/deliveries": "tutor A, site A",
    "POST /v1/webhooks/<webhook_id>/deliveries/<message_id>/replays": "tutor A, site A",
    "POST /v1/sessions": "site A, site A elsewhere",
    "POST /v1/sessions/<session_id>/renewals": "site A",
    "DELETE /v1/sessions/<session_id>": "site A",
    "GET /v1/classes": f"{TUTORS}, {SITES}",
    "POST /v1/classes": TUTORS,
    "GET /v1/classes/<class_id>": f"{READ}, student A1, student A2, {IN_SESSION}",
    "PATCH /v1/classes/<class_id>": TEACH,
    "DELETE /v1/classes/<class_id>": "tutor A",
    "POST /v1/classes/<class_id>/copies": "tutor A, second A",
    "PUT /v1/classes/<class_id>/picture": TEACH,
    "DELETE /v1/classes/<class_id>/picture": TEACH,
    "GET /v1/classes/<class_id>/packs": READ,
    "GET /v1/classes/<class_id>/site-log": "tutor A, second A",
    "GET /v1/classes/<class_id>/students": READ,
    "POST /v1/classes/<class_id>/students": TEACH,
    "PATCH /v1/classes/<class_id>/students": TEACH,
    "PATCH /v1/classes/<class_id>/students/<student_id>": TEACH,
    "DELETE /v1/classes/<class_id>/students/<student_id>": TEACH,
    "PUT /v1/classes/<class_id>/students/by-external-id/<external_id>": TEACH,
    # The id is site A's own; nobody else has put it.
    "GET /v1/classes/<class_id>/students/by-external-id/<external_id>": "site A",
    "GET /v1/classes/<class_id>/tutors": READ,
    "DELETE /v1/classes/<class_id>/tutors/<tutor_id>": "tutor A, second A",
    "PUT /v1/classes/<class_id>/tutors/by-external-id/<external_id>": "tutor A, site A",
    "GET /v1/classes/<class_id>/tutors/by-external-id/<external_id>": "tutor A",
    "POST /v1/classes/<class_id>/student-keys/<student_id>": TEACH,
    "DELETE /v1/classes/<class_id>/student-keys/<student_id>": TEACH,
    "POST /v1/classes/<class_id>/student-keys/<student_id>/links": TEACH,
    "POST /v1/key-links": OPEN,
    "GET /v1/classes/<class_id>/board": READ,
    "GET /v1/classes/<class_id>/join.svg": TEACH,
    "GET /v1/join": OPEN,
    "POST /v1/join": OPEN,
    "GET /v1/classes/<class_id>/batches": READ,
    "POST /v1/classes/<class_id>/batches": TEACH,
    "POST /v1/classes/<class_id>/batches/estimate": TEACH,
    "GET /v1/batches/<batch_id>": READ,
    "GET /v1/batches/<batch_id>/events": READ,
    "DELETE /v1/batches/<batch_id>": TEACH,
    "GET /v1/batches/<batch_id>/archive.zip": TEACH,
    "GET /v1/batches/<batch_id>/print-run/<sheet_format>.pdf": TEACH,
    "GET /v1/batches/<batch_id>/print-run/<sheet_format>.ticket.json": TEACH,
    "GET /v1/batches/<batch_id>/print-run/<sheet_format>.ticket.ipp": TEACH,
    "GET /v1/batches/<batch_id>/table.csv": TEACH,
}
REFUSED = {401, 403, 404}
CODES = {"key-missing", "key-unknown", "not-allowed", "scope-missing", "not-found"}


def routes(app: Flask) -> Iterator[str]:
    """Every method of every route, with the converters taken out of the path."""
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<\w+(?:\(.*?\))?:(\w+)>", r"<\1>", rule.rule)
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            # Who gets in from a learning platform: tests/integration/lti.
            if not rule.endpoint.startswith(("page", "lti")):
                yield f"{method} {path}"


@pytest.fixture(scope="module")
def studio(furnished: Studio, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """A studio that is only looked at; whoever breaks something takes a copy."""
    made = furnished.copy(tmp_path_factory.mktemp("studio") / "data")
    made.keys["wrong"] = "rck_" + "A" * 43
    yield made
    made.close()


def path_of(studio: Studio, route: str) -> str:
    """The route's address with A's and A1's ids in it."""
    ids = {
        "reference_id": studio.ids["reference_id A"],
        "pack_id": studio.ids["pack_id A"],
        "class_id": studio.ids["class_id A"],
        "student_id": studio.ids["student_id A1"],
        "batch_id": studio.ids["batch_id A"],
        "site_id": studio.ids["site_id A"],
        "key_id": studio.ids["key of site A" if "/sites/" in route else "key_id A"],
        "printer_id": studio.ids["printer_id A"],
        "tutor_id": studio.ids["tutor_id A"],
        "session_id": studio.ids["session_id A"],
        "webhook_id": studio.ids["webhook_id A"],
        "message_id": studio.ids["message_id A"],
        "external_id": "second" if "/tutors/" in route else "u-1",
        "label": "1-1",
        "code": "not-found",
        "name": "start.js",
        "sheet_format": "iso_a4_210x297mm",
        "file_name": "pack.pdf",
    }
    path = re.sub(r"<(\w+)>", lambda found: ids[found[1]], route.partition(" ")[2])
    asked = {
        "/v1/join": f"?code={studio.ids['code A']}",
        "/v1/references": f"?sha256={'0' * 64}",
        f"/v1/classes/{studio.ids['class_id A']}/packs": "?number=7K3F-Q2ZD",
        "/v1/links/pack.pdf": f"?secret={studio.keys['link A']}",
    }
    return path + (asked.get(path, "") if route.startswith("GET") else "")


def how(studio: Studio, route: str) -> dict[str, Any]:
    """The body of a request; an empty one where a refusal of it is answer enough."""
    wish = {"reference_id": studio.ids["reference_id A"], "spec": SPEC}
    bodies: dict[str, Any] = {
        "POST /v1/plans": wish,
        "POST /v1/previews": wish,
        "POST /v1/grids": {**wish, "spec": {**SPEC, "grid": {"square_mm": 50}}},
        "POST /v1/grids/picture": wish,
        "POST /v1/packs": wish,
        "POST /v1/sign-in": {"key": studio.keys["student B1"]},
        "POST /v1/join": {"code": studio.ids["code A"], "name": "Free A"},
        "POST /v1/tutors": {"name": "Mallory"},
        "PUT /v1/classes/<class_id>/tutors/by-external-id/<external_id>": {"name": "Cem"},
    }
    if route.startswith(("GET", "DELETE")):
        return {}
    return {"json": bodies.get(route, {})}


def test_every_route_has_its_line_here_and_its_rule_there(studio: Studio, tmp_path: Path) -> None:
    assert set(routes(studio.app)) == set(MAY)
    with_page = create_app(Settings(data_dir=tmp_path, page_dir=PAGE))
    assert {rule.endpoint for rule in with_page.url_map.iter_rules()} == set(RULES)


@pytest.mark.parametrize("route", sorted(MAY))
def test_only_who_may_gets_in(studio: Studio, spare: Studio, route: str) -> None:
    may = {name.strip() for name in MAY[route].split(",")} - {""}
    method, path = route.partition(" ")[0], path_of(studio, route)
    for name in [one for one in ASKERS if one not in may]:
        answer = studio.asker(name).ask(method, path, **how(studio, route))
        wanted = {401} if name in {"nobody", "wrong"} else REFUSED - {401}
        assert answer.status_code in wanted, (name, answer.status_code)
        assert answer.json is not None
        assert answer.json["code"] in CODES
    mine, whole = studio if method == "GET" else spare, method == "GET"
    for name in sorted(may):
        # What is done may break the studio; what is read or refused does not.
        if not whole:
            mine.become(studio)
        answer = mine.asker(name).ask(method, path, **how(studio, route))
        assert answer.status_code not in REFUSED, (name, answer.status_code, answer.text[:200])
        answer.close()
        whole = mine is studio or answer.status_code >= 400


@pytest.mark.parametrize(
    "name", ["tutor B", "student B1", "student A2", "session A2", "site A elsewhere"]
)
def test_a_foreign_thing_is_answered_as_one_that_is_not_there(studio: Studio, name: str) -> None:
    asker = studio.asker(name)
    for kind in ("reference_id", "pack_id", "printer_id"):
        there, prefix = studio.ids[f"{kind} A"], studio.ids[f"{kind} A"][:4]
        places = {"reference_id": "references", "pack_id": "packs", "printer_id": "printers"}
        place = places[kind]
        foreign = asker.ask("GET", f"/v1/{place}/{there}")
        absent = asker.ask("GET", f"/v1/{place}/{prefix}{'A' * 22}")
        assert foreign.status_code == absent.status_code == 404
        assert foreign.data == absent.data


@pytest.mark.parametrize(
    ("name", "path", "body"),
    [
        ("student A2", "/v1/plans", {"reference_id": "reference_id A", "spec": SPEC}),
        ("student A2", "/v1/previews", {"reference_id": "reference_id A", "spec": SPEC}),
        ("tutor B", "/v1/previews", {"reference_id": "reference_id A", "spec": SPEC}),
        ("student A2", "/v1/packs", {"reference_id": "reference_id A", "spec": SPEC}),
        ("tutor B", "/v1/packs", {"reference_id": "reference_id A", "spec": SPEC}),
        (
            "tutor B",
            "/v1/packs",
            {"reference_id": "reference_id B", "spec": SPEC, "student_id": "student_id A1"},
        ),
        (
            "student A1",
            "/v1/packs",
            {"reference_id": "reference_id A", "spec": SPEC, "student_id": "student_id A2"},
        ),
    ],
)
def test_a_foreign_thing_in_a_body_is_not_there_either(
    studio: Studio, name: str, path: str, body: dict[str, Any]
) -> None:
    filled = {
        key: studio.ids.get(value, value) if isinstance(value, str) else value
        for key, value in body.items()
    }
    answer = studio.asker(name).ask("POST", path, json=filled)
    assert (answer.status_code, answer.json and answer.json["code"]) == (404, "not-found")


def test_a_photo_is_sent_for_no_foreign_student(studio: Studio) -> None:
    for name in ("tutor B", "student A2", "student B1"):
        path = f"/v1/references?student_id={studio.ids['student_id A1']}"
        answer = studio.asker(name).ask(
            "POST", path, data={"file": (PAGE / "icons" / "icon-180.png").open("rb")}
        )
        assert answer.status_code == 404


def test_a_student_of_one_class_is_not_managed_through_another(
    studio: Studio, spare: Studio
) -> None:
    mine = spare
    mine.become(studio)
    other = mine.asker("tutor A").made("/v1/classes", {"name": "Another"})["id"]
    path = f"/v1/classes/{other}/students/{mine.ids['student_id A1']}"
    assert mine.asker("tutor A").ask("DELETE", path).status_code == 404
    assert mine.asker("student A1").ask("GET", "/v1/me").status_code == 200


def test_on_loopback_without_a_tutor_it_is_its_users_own(tmp_path: Path) -> None:
    studio = Studio(tmp_path / "data")
    nobody = studio.asker("nobody")
    assert nobody.ask("GET", "/v1/me").json["person"]["role"] == "local"
    photo = studio.send_photo("nobody", 1)
    pack = studio.ask_for_pack("nobody", photo)
    assert nobody.ask("GET", "/v1/classes").status_code == 403
    first = nobody.ask("POST", "/v1/tutors", json={"name": "Ada"})
    assert first.status_code == 201
    assert nobody.ask("POST", "/v1/tutors", json={"name": "Eve"}).status_code == 401
    assert nobody.ask("GET", f"/v1/packs/{pack}").status_code == 401
    studio.keys["tutor"] = first.json["key"]
    for path in (f"/v1/references/{photo}", f"/v1/packs/{pack}"):
        assert studio.asker("tutor").ask("GET", path).status_code == 200
    again = studio.asker("tutor").ask("POST", "/v1/tutors", json={"name": "Eve"})
    assert again.status_code == 403
    studio.close()


OPENED: dict[str, dict[str, Any]] = {
    "on every address": {"host": "0.0.0.0"},  # noqa: S104
    "behind a proxy": {"trusted_proxy": "127.0.0.1"},
    "under another name": {"allowed_hosts": ("studio.example",)},
}


@pytest.mark.parametrize("how", OPENED)
def test_where_others_can_ask_nobody_is_local(tmp_path: Path, how: str) -> None:
    studio = Studio(tmp_path / "data")
    studio.context.ledger.people.add_tutor("Ada")
    studio.close()
    app = create_app(Settings(data_dir=tmp_path / "data", **OPENED[how]))
    context = app.extensions["ricalco"]
    for tutor in context.ledger.people.tutors():
        context.ledger.people.erase(tutor.id)
    # The last tutor is gone: what was theirs is closed and not everybody's.
    assert app.test_client().get("/v1/me").status_code == 401
    answer = app.test_client().post("/v1/tutors", json={"name": "Mallory"})
    assert (answer.status_code, answer.json["code"]) == (401, "key-missing")
    context.ledger.close()
    with pytest.raises(SettingInvalid, match="tutor"):
        create_app(Settings(data_dir=tmp_path / "data", **OPENED[how]))


@pytest.mark.parametrize(
    "header", ["Forwarded", "Via", "X-Forwarded-For", "X-Forwarded-Host", "X-Real-IP"]
)
def test_who_comes_through_a_proxy_that_nobody_told_of_is_not_local(
    tmp_path: Path, header: str
) -> None:
    studio = Studio(tmp_path / "data")
    client = studio.app.test_client()
    assert client.get("/v1/me", headers={header: "for=203.0.113.9"}).status_code == 401
    assert client.get("/v1/me").json["person"]["role"] == "local"
    studio.close()


def test_the_machines_own_user_finds_their_packs_again(tmp_path: Path) -> None:
    studio = Studio(tmp_path / "data")
    nobody = studio.asker("nobody")
    photo = studio.send_photo("nobody", 1)
    made = [studio.ask_for_pack("nobody", photo, title) for title in ("Jug", "Pears")]
    found = nobody.ask("GET", "/v1/me/packs")
    assert found.status_code == 200
    assert {one["id"] for one in found.json["items"]} == set(made)
    assert found.json["items"][0]["links"]["self"].startswith("/v1/packs/")
    studio.close()
