"""Printers through the API: what they measured, who sees it, and that it goes when they go."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from tests.integration.classes.studio import Asker, Studio
from worker.store.ledger import MOST_PRINTERS

A4 = "iso_a4_210x297mm"
#: Readings of bars of 200 mm.
MEASURED = {"name": "Thursday's inkjet", "format": A4, "across_mm": 199.2, "down_mm": 200.3}
MARGINS = {"top": 3, "right": 4, "bottom": 18, "left": 4}


def codes(answer: Any) -> tuple[int, str | None, str | None]:
    problem = answer.json or {}
    return answer.status_code, problem.get("code"), problem.get("field")


def names(asker: Asker) -> set[str]:
    return {one["name"] for one in asker.ask("GET", "/v1/printers").json["items"]}


def test_a_printer_is_kept_with_what_its_readings_mean(studio: Studio) -> None:
    asker = studio.asker("student A2")
    made = asker.made("/v1/printers", {**MEASURED, "margin_mm": MARGINS})
    assert made["across_correction"] == pytest.approx(200 / 199.2, abs=1e-6)
    assert (made["across"]["verdict"], made["across"]["nominal_mm"]) == ("corrected", 200)
    # Half a millimetre of 200 is what nobody reads better.
    assert made["across"]["uncertainty"] == pytest.approx(0.00125, rel=0.01)
    assert (made["down_correction"], made["down"]["verdict"]) == (1.0, "exact")
    assert made["margin_mm"] == MARGINS
    assert made["class_id"] is None
    assert asker.ask("GET", made["links"]["self"]).json == made
    with asker.ask("GET", made["links"]["test_page"]) as page:
        assert page.status_code == 200


def test_only_what_is_given_changes(studio: Studio) -> None:
    asker = studio.asker("student A2")
    made = asker.made("/v1/printers", MEASURED)
    path = made["links"]["self"]
    changed = asker.ask("PATCH", path, json={"down_mm": 201.2, "margin_mm": MARGINS}).json
    assert changed["down_correction"] == pytest.approx(200 / 201.2, abs=1e-6)
    assert changed["across"] == made["across"]
    assert changed["margin_mm"] == MARGINS
    emptied = asker.ask("PATCH", path, json={"down_mm": None, "name": "Laser"}).json
    assert (emptied["name"], emptied["down"], emptied["down_correction"]) == ("Laser", None, 1.0)
    # The bar across is shorter on A5, so the old reading no longer fits.
    refused = asker.ask("PATCH", path, json={"format": "iso_a5_148x210mm"})
    assert codes(refused) == (422, "reading-implausible", "across_mm")
    assert asker.ask("GET", path).json == emptied


@pytest.mark.parametrize(
    ("wish", "problem"),
    [
        ({"across_mm": 190.0}, (422, "page-fitting", "across_mm")),
        ({"down_mm": 207.0}, (422, "page-fitting", "down_mm")),
        ({"across_mm": 7.84}, (422, "reading-implausible", "across_mm")),
        ({"across_mm": "199.2 mm"}, (422, "request-invalid", "across_mm")),
        ({"across_mm": -199.2}, (422, "request-invalid", "across_mm")),
        ({"across_mm": float("nan")}, (400, "body-unreadable", None)),
        ({"format": "a4"}, (422, "request-invalid", "format")),
        ({"name": " "}, (422, "request-invalid", "name")),
        ({"name": "x" * 61}, (422, "request-invalid", "name")),
        ({"name": "two\nlines"}, (422, "request-invalid", "name")),
        ({"margin_mm": {"top": 3}}, (422, "request-invalid", "margin_mm.right")),
        ({"margin_mm": {**MARGINS, "top": 61}}, (422, "request-invalid", "margin_mm.top")),
        ({"colour": "red"}, (422, "request-invalid", "colour")),
        ({"class_id": "cls_" + "A" * 22}, (404, "not-found", None)),
    ],
)
def test_what_cannot_be_is_refused_with_its_field(
    studio: Studio, wish: dict[str, Any], problem: tuple[int, str, str | None]
) -> None:
    asker = studio.asker("tutor A")
    before = names(asker)
    answer = asker.ask("POST", "/v1/printers", json={**MEASURED, **wish})
    assert codes(answer) == problem
    assert answer.content_type == "application/problem+json"
    assert names(asker) == before


def test_fitting_is_named_with_how_to_switch_it_off(studio: Studio) -> None:
    answer = studio.asker("student A2").ask(
        "POST", "/v1/printers", json={**MEASURED, "across_mm": 191.0}
    )
    assert "95.5 %" in answer.json["detail"]
    assert "actual size" in answer.json["detail"]


def test_a_reading_is_judged_without_being_kept(studio: Studio) -> None:
    asker = studio.asker("student A2")
    body = {"format": "na_letter_8.5x11in", "across_mm": 8.03 * 25.4, "down_mm": 194.5}
    said = asker.ask("POST", "/v1/readings", json=body).json
    assert said["across"]["correction"] == pytest.approx(8 / 8.03, abs=1e-6)
    assert (said["down"]["verdict"], said["down"]["correction"]) == ("page-fitting", None)
    nothing = asker.ask("POST", "/v1/readings", json={"format": A4}).json
    assert nothing == {"format": A4, "across": None, "down": None}
    assert names(asker) == set()


def test_a_tutor_shares_a_printer_which_students_use_and_do_not_change(studio: Studio) -> None:
    tutor, student = studio.asker("tutor A"), studio.asker("student A2")
    made = tutor.made("/v1/printers", {**MEASURED, "class_id": studio.ids["class_id A"]})
    path = made["links"]["self"]
    assert student.ask("GET", path).json == made
    assert names(student) == {MEASURED["name"]}
    assert names(studio.asker("student A1")) == {MEASURED["name"], "Attic"}
    for method in ("PATCH", "DELETE"):
        how = {"json": {"name": "Mine"}} if method == "PATCH" else {}
        assert codes(student.ask(method, path, **how))[:2] == (403, "not-allowed")
    for name in ("student B1", "tutor B"):
        assert studio.asker(name).ask("GET", path).status_code == 404
        assert MEASURED["name"] not in names(studio.asker(name))
    # A course site acts for the tutor.
    assert studio.asker("site A").ask("GET", path).json == made
    tutor.ask("PATCH", path, json={"class_id": None})
    assert student.ask("GET", path).status_code == 404


def test_nobody_shares_with_a_class_that_they_do_not_teach(studio: Studio) -> None:
    for name in ("student A1", "student B1", "tutor B"):
        wish = {**MEASURED, "class_id": studio.ids["class_id A"]}
        answer = studio.asker(name).ask("POST", "/v1/printers", json=wish)
        wanted = (404, "not-found") if name == "tutor B" else (403, "not-allowed")
        assert codes(answer)[:2] == wanted
    own = f"/v1/printers/{studio.ids['printer_id A']}"
    wish = {"class_id": studio.ids["class_id A"]}
    assert studio.asker("student A1").ask("PATCH", own, json=wish).status_code == 403


def test_a_tutor_sees_as_their_students_do(studio: Studio) -> None:
    path = f"/v1/printers/{studio.ids['printer_id A']}"
    tutor = studio.asker("tutor A")
    assert tutor.ask("GET", path).json["name"] == "Attic"
    assert names(tutor) == set()
    assert tutor.ask("PATCH", path, json={"name": "Cellar"}).json["name"] == "Cellar"
    assert tutor.ask("DELETE", path).status_code == 204
    assert names(studio.asker("student A1")) == set()


def test_the_same_request_twice_makes_one(studio: Studio) -> None:
    asker = studio.asker("student A2")
    key = {"Idempotency-Key": "attic-1"}
    first = asker.ask("POST", "/v1/printers", json=MEASURED, headers=key)
    again = asker.ask("POST", "/v1/printers", json=MEASURED, headers=key)
    assert (first.status_code, first.json) == (again.status_code, again.json)
    assert first.headers["Location"] == first.json["links"]["self"]
    assert len(asker.ask("GET", "/v1/printers").json["items"]) == 1
    # What was deleted is deleted from kept answers as well.
    asker.ask("DELETE", first.json["links"]["self"])
    anew = asker.ask("POST", "/v1/printers", json=MEASURED, headers=key)
    assert anew.json["id"] != first.json["id"]


def test_there_is_a_most(studio: Studio) -> None:
    asker = studio.asker("student A2")
    for number in range(MOST_PRINTERS):
        asker.made("/v1/printers", {"name": f"No. {number}", "format": A4})
    answer = asker.ask("POST", "/v1/printers", json=MEASURED)
    assert codes(answer)[:2] == (409, "limit-reached")
    every = asker.ask("GET", "/v1/printers").json
    assert [one["name"] for one in every["items"]] == [f"No. {n}" for n in range(MOST_PRINTERS)]
    assert every["most"] == MOST_PRINTERS


def test_one_has_a_copy_and_takes_everything_away(studio: Studio) -> None:
    student = studio.asker("student A1")
    archive = zipfile.ZipFile(io.BytesIO(student.ask("GET", "/v1/me/export").data))
    told = json.loads(archive.read("data.json"))
    assert [one["name"] for one in told["printers"]] == ["Attic"]
    assert told["printers"][0]["across"]["measured_mm"] == 199.2
    student.ask("DELETE", "/v1/me")
    kept = b"".join(path.read_bytes() for path in studio.folder.glob("ledger.db*"))
    # B1's is there still.
    assert studio.ids["printer_id B"].encode() in kept
    assert studio.ids["printer_id A"].encode() not in kept


def test_a_class_goes_and_its_printer_stays_with_its_tutor(studio: Studio) -> None:
    tutor = studio.asker("tutor A")
    class_id = studio.ids["class_id A"]
    made = tutor.made("/v1/printers", {**MEASURED, "class_id": class_id})
    assert tutor.ask("DELETE", f"/v1/classes/{class_id}").status_code == 204
    assert tutor.ask("GET", made["links"]["self"]).json == {**made, "class_id": None}


def test_the_first_tutor_takes_over_what_was_measured_before(tmp_path: Path) -> None:
    studio = Studio(tmp_path / "alone")
    nobody = studio.asker("nobody")
    made = nobody.made("/v1/printers", MEASURED)
    refused = nobody.ask("POST", "/v1/printers", json={**MEASURED, "class_id": "cls_" + "A" * 22})
    assert codes(refused)[:2] == (403, "not-allowed")
    studio.keys["tutor"] = nobody.made("/v1/tutors", {"name": "Ada"})["key"]
    assert nobody.ask("GET", made["links"]["self"]).status_code == 401
    assert studio.asker("tutor").ask("GET", made["links"]["self"]).json["name"] == made["name"]
    studio.close()


@pytest.mark.parametrize("name", [A4, "na_letter_8.5x11in"])
def test_the_test_page_comes_as_one_page_and_is_kept_by_browsers(studio: Studio, name: str) -> None:
    asker = studio.asker("student A1")
    answer = asker.ask("GET", f"/v1/test-page.pdf?format={name}")
    content = answer.data
    answer.close()
    assert answer.content_type == "application/pdf"
    with pikepdf.open(io.BytesIO(content)) as document:
        assert len(document.pages) == 1
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
    again = asker.ask(
        "GET",
        f"/v1/test-page.pdf?format={name}",
        headers={"If-None-Match": answer.headers["ETag"]},
    )
    assert again.status_code == 304
    assert codes(asker.ask("GET", "/v1/test-page.pdf?format=a4"))[:2] == (422, "request-invalid")
