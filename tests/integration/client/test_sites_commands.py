"""A course site from its making to its end, by the command alone."""

from __future__ import annotations

import json

from client.command import exit_codes
from ricalco_client.api import Ricalco
from tests.integration.client.test_class_commands import Tutor, tutor

__all__ = ["tutor"]
ORIGIN = "https://course.example"


def test_a_site_from_its_making_to_its_end(tutor: Tutor) -> None:
    assert "name" in tutor.output("sites", "list")
    class_ = json.loads(tutor.output("class", "create", "Friday 8a", "--json"))
    key = tutor.output(
        "sites", "create", "Course pages", "--class", "friday 8A", "--origin", ORIGIN, "--days", 30
    ).strip()
    site = Ricalco(tutor.url, key=key)
    student = site.classes.put_student(class_["id"], "u-7", "李小龍")
    assert site.classes.student(class_["id"], "u-7")["id"] == student["id"]
    assert Ricalco(tutor.url, key=site.sessions.start(student["id"], ORIGIN)["token"]).supports()
    listed = json.loads(tutor.output("sites", "list", "--json"))
    assert [one["class_ids"] for one in listed] == [[class_["id"]]]
    assert "put_student_by_external_id" in tutor.output("sites", "log", "Course pages")
    made = tutor.run("sites", "key", "Course pages", "--label", "autumn")
    assert made.returncode == exit_codes.DONE, made.stderr
    assert "Course pages" in made.stderr
    assert Ricalco(tutor.url, key=made.stdout.strip()).supports()
    old = next(one for one in Ricalco(tutor.url, key=tutor.key).sites.keys(listed[0]["id"]))
    tutor.output("sites", "key", "Course pages", "--withdraw", old["id"])
    refused = tutor.run("class", "list", key=key)
    assert "withdrawn" in refused.stderr
    gone = tutor.run("sites", "delete", listed[0]["id"])
    assert "Students stay" in gone.stderr
    assert json.loads(tutor.output("sites", "list", "--json")) == []


def test_a_site_that_is_not_there_is_said_so(tutor: Tutor) -> None:
    done = tutor.run("sites", "delete", "Nowhere")
    assert done.returncode == exit_codes.USAGE
    assert "There is no course site called Nowhere" in done.stderr
