"""The log of access: every decision about people's things leaves a line, and no line a name."""

from __future__ import annotations

import json
import logging
import re
from typing import Any

import pytest

from service.access.rules import RULES
from service.http.answers.problems import STATUS
from service.http.logs.access_log import EVENTS, LETTERS, REFUSALS
from tests.integration.classes.studio import SPEC, TITLES, Studio
from worker.log_lines import JsonLines

#: Views that change what is kept of somebody, or give it out, and leave a line of the plain
#: request log only: what they make is looked at, and not taken.
MADE = {
    *(
        "references.create_reference",
        "references.square_reference",
        "plans.create_plan",
        "previews.create_preview",
        "grids.create_grid",
        "grids.create_grid_picture",
    ),
    *(
        "packs.create_pack",
        "packs.mark_pack",
        "readings.judge_readings",
        "printers.create_printer",
        "printers.update_printer",
    ),
    *(
        "classes.create_class",
        "classes.copy_class",
        "students.add_students",
        "students.reorder_students",
        "batches.estimate_batch",
        "batches.create_batch",
        "students-by-external-id.put_student_by_external_id",
        # What becomes of it is an event: a launch.
        "lti_login",
    ),
}


class Log:
    """What the log of access says, line by line."""

    def __init__(self, caplog: pytest.LogCaptureFixture) -> None:
        self.caplog = caplog
        caplog.set_level(logging.DEBUG)

    def lines(self) -> list[dict[str, Any]]:
        """What was written since the last look, as it is written."""
        records = [one for one in self.caplog.records if one.name == "ricalco.access"]
        self.caplog.clear()
        return [json.loads(JsonLines().format(one)) for one in records]

    def line(self) -> dict[str, Any]:
        """The only line."""
        (line,) = self.lines()
        return line


@pytest.fixture
def log(studio: Studio, caplog: pytest.LogCaptureFixture) -> Log:
    assert studio.keys
    told = Log(caplog)
    told.lines()
    caplog.clear()
    return told


def short(id_: str) -> str:
    """Eight random letters after the prefix."""
    return id_[: 4 + LETTERS]


def test_every_view_that_takes_or_gives_out_has_its_event(studio: Studio) -> None:
    changing = {
        rule.endpoint
        for rule in studio.app.url_map.iter_rules()
        if {"POST", "PUT", "PATCH", "DELETE"} & (rule.methods or set())
    }
    assert changing - set(EVENTS) == MADE
    assert set(EVENTS) <= set(RULES)
    assert {kind.code for kind in STATUS} >= REFUSALS


def test_keys_leave_their_lines(studio: Studio, log: Log) -> None:
    me = studio.asker("tutor A").ask("GET", "/v1/me").json["person"]["id"]
    assert log.lines() == []
    made = studio.asker("tutor A").made("/v1/me/keys", {"label": "tablet"})
    line = log.line()
    assert (line["event"], line["actor"], line["role"]) == ("key-made", short(me), "tutor")
    assert line["about"] == short(made["key_id"])
    studio.asker("tutor A").ask("DELETE", f"/v1/me/keys/{made['key_id']}")
    line = log.line()
    assert (line["event"], line["key"]) == ("key-withdrawn", short(made["key_id"]))
    header = {"Authorization": f"Bearer {made['key']}"}
    studio.asker("nobody").ask("GET", "/v1/me", headers=header)
    line = log.line()
    assert (line["event"], line["code"]) == ("refused", "key-unknown")
    assert "actor" not in line
    student = studio.ids["student_id A1"]
    path = f"/v1/classes/{studio.ids['class_id A']}/student-keys/{student}"
    studio.asker("tutor A").made(path, {})
    line = log.line()
    assert (line["event"], line["student"]) == ("key-made", short(student))


def test_browsers_leave_their_lines(studio: Studio, log: Log) -> None:
    browser = studio.app.test_client()
    student = studio.ids["student_id A1"]
    browser.post("/v1/sign-in", json={"key": studio.keys["student A1"]})
    line = log.line()
    assert (line["event"], line["actor"]) == ("signed-in", short(student))
    browser.delete("/v1/sign-in")
    line = log.line()
    assert (line["event"], line["actor"]) == ("signed-out", short(student))
    browser.delete("/v1/sign-in")
    assert log.lines() == []


def test_what_is_refused_exported_and_deleted_leaves_its_line(studio: Studio, log: Log) -> None:
    student, photo = studio.ids["student_id A1"], studio.ids["reference_id A"]
    a1, a2 = studio.asker("student A1"), studio.asker("student A2")
    a2.ask("GET", f"/v1/references/{photo}")
    line = log.line()
    assert (line["event"], line["code"], line["reference"]) == (
        "refused",
        "not-found",
        short(photo),
    )
    a2.ask("POST", "/v1/plans", json={"reference_id": photo, "spec": SPEC})
    assert log.line()["code"] == "not-found"
    a1.ask("GET", "/v1/classes")
    line = log.line()
    assert (line["code"], line["actor"], line["role"]) == ("not-allowed", short(student), "student")
    a1.ask("GET", "/v1/me/export").close()
    assert (line := log.line())["event"] == "exported"
    assert line["actor"] == short(student)
    a1.ask("DELETE", f"/v1/packs/{studio.ids['pack_id A']}")
    assert log.line()["event"] == "pack-deleted"
    a1.ask("DELETE", f"/v1/references/{photo}")
    assert log.line()["event"] == "photo-deleted"
    a1.ask("DELETE", "/v1/me")
    assert log.line()["event"] == "person-deleted"


def test_wrong_codes_are_counted(studio: Studio, log: Log) -> None:
    browser = studio.app.test_client()
    for number in range(8):
        browser.get(f"/v1/join?code=ZZZZ-000{number}")
    lines = log.lines()
    counted = [line["wrong_codes"] for line in lines if line["event"] == "wrong-code"]
    assert counted == [1, 2, 3, 4, 5, 6]
    assert [line["code"] for line in lines[6:]] == 2 * ["too-many-tries"]


def test_no_line_holds_a_name_a_title_a_code_a_key_or_a_whole_id(
    studio: Studio, caplog: pytest.LogCaptureFixture
) -> None:
    """Everybody asks for everything, and deletes it."""
    caplog.set_level(logging.DEBUG)
    views = re.compile(r"<\w+(?:\(.*?\))?:(\w+)>")
    ids = {kind.partition(" ")[0]: id_ for kind, id_ in studio.ids.items() if kind[-1] in "A1"}
    ids |= {"label": "1-1", "sheet_format": "iso_a4_210x297mm"}
    names = {"name": "Wilhelmine", "label": "Wilhelmines Tablet", "title": TITLES[1]}
    issued: list[str] = []
    rules = sorted(studio.app.url_map.iter_rules(), key=lambda rule: ".delete_" in rule.endpoint)
    for rule in rules:
        path = views.sub(lambda found: ids.get(found[1], "x"), rule.rule)
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            if path.endswith("/events"):
                continue
            for name in ("nobody", "student A2", "tutor B", "student A1", "tutor A"):
                body = {"code": studio.ids["code A"], "key": studio.keys["tutor A"], **names}
                wishes = [{"json": wish} for wish in ({}, {"name": body["name"]}, body)]
                for how in [{}] if method in {"GET", "DELETE"} else wishes:
                    answer = studio.asker(name).ask(method, path, **how)
                    issued += (
                        re.findall(r"rc[ksl]_[\w-]{43}", answer.text) if answer.is_json else []
                    )
                    answer.close()
    lines = [
        JsonLines().format(record) for record in caplog.records if record.name == "ricalco.access"
    ]
    assert len(lines) > 200
    secrets = [*studio.keys.values(), *studio.ids.values(), *names.values(), *TITLES, *issued]
    secrets += ["Student ", "Tutor A", "Class A", "Course pages", "Attic", "rck_", "rcs_", "rcl_"]
    text = "\n".join(lines)
    written = {word for word in secrets if word in text or json.dumps(word)[1:-1] in text}
    assert written == set()


def test_another_systems_ids_are_never_written(studio: Studio, log: Log) -> None:
    """They may be names or e-mail addresses."""
    path = f"/v1/classes/{studio.ids['class_id A']}/tutors/by-external-id/cem.ay@school.example"
    made = studio.asker("site A").ask("PUT", path, json={"name": "Cem"})
    assert made.status_code == 201
    line = log.line()
    assert (line["event"], line["role"]) == ("tutor-added", "site")
    refused = studio.asker("site A reads").ask("PUT", path, json={"name": "Cem"})
    denied = log.line()
    assert refused.json["code"] == denied["code"] == "scope-missing"
    assert "cem" not in str([line, denied]).lower()
