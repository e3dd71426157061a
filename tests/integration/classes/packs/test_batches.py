"""Batches through HTTP with the real worker: asked, watched, fetched, dealt out."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import zipfile
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from ricalco_client.api import Ricalco
from ricalco_client.errors import PapersRefused
from service.batches.schemas import MAX_BATCH_BYTES
from service.classes.tables.roster import read_roster
from service.http.requests.bodies import MAX_JSON_BYTES

Json = dict[str, Any]
A4, A3 = "iso_a4_210x297mm", "iso_a3_297x420mm"
SPEC = {"support": {"width_mm": 300, "height_mm": 200}}
HEAD, ANN, NONE = "Student;Width;Sheet;Title", "Amélie Dvořáková", "ref_" + "x" * 22


@pytest.fixture(scope="module")
def reference_id(room: Any, photo: bytes) -> str:
    """The tutor's photo."""
    return str(room.tutor.upload(photo))


@pytest.fixture(scope="module")
def wish(room: Any, reference_id: str) -> Json:
    """One photo to many supports: one large, one on A3, one told something."""
    items: list[Json] = [{"student": student.id} for student in room.students]
    items[1] |= {"spec": {"support": {"width_mm": 600, "height_mm": 400}}, "title": "Large"}
    items[2] |= {"spec": {"sheet": {"format": A3}}}
    items[3] |= {"note": "Bring your own board."}
    return {"title": "Portrait, 肖像", "reference_id": reference_id, "spec": SPEC, "items": items}


@pytest.fixture(scope="module")
def batch(room: Any, wish: Json) -> Json:
    """The batch, made."""
    asked = room.tutor.post(room.batches, wish)
    assert asked.status_code == 202, asked.text
    assert asked.headers["Location"] == asked.json()["links"]["self"]
    made: Json = room.tutor.ended(asked.json()["links"]["self"])
    return made


def test_an_estimate_tells_what_the_batch_then_takes(room: Any, wish: Json, batch: Json) -> None:
    told = room.tutor.post(f"{room.batches}/estimate", wish)
    assert told.status_code == 200, told.text
    estimate = told.json()
    assert estimate["packs"] == 6
    assert estimate["sheets"] == batch["progress"]["total"]
    large = {"width_mm": 600, "height_mm": 400}
    assert estimate["items"][1]["support"] == batch["items"][1]["support"] == large
    assert {total["sheet_format"]: total["packs"] for total in estimate["formats"]} == {
        A4: 5,
        A3: 1,
    }
    assert estimate["ink_m2"] > 0
    # 512 pixels on 600 mm are 22 per inch: far below what a print can show.
    codes = [warning["code"] for warning in estimate["items"][1]["warnings"]]
    assert "reference-too-small" in codes


def test_every_pack_is_made_and_told_with_its_student(room: Any, batch: Json) -> None:
    assert batch["state"] == "ready"
    assert batch["counts"] == {"ready": 6}
    assert [item["student"]["name"] for item in batch["items"]] == [
        student.name for student in room.students
    ]
    for item, student in zip(batch["items"], room.askers, strict=True):
        pack = student.get(item["links"]["pack"]).json()
        assert (pack["state"], pack["number"]) == ("ready", item["number"])
        assert student.get(batch["links"]["self"]).status_code in {403, 404}
    other = room.askers[0].get(batch["items"][1]["links"]["pack"])
    assert other.status_code == 404


def test_the_archive_has_every_pack_with_its_cover_under_safe_names(
    room: Any, batch: Json, tmp_path: Path
) -> None:
    answer = room.tutor.get(batch["links"]["archive"])
    assert answer.headers["Content-Type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        assert names[1] == "01 Amélie Dvořáková, Portrait, 肖像.pdf"
        assert names[3] == "02 ليلى بن يوسف, Large.pdf"
        assert names[-1] == "table.csv"
        assert len(names) == 2 * 6 + 1
        for student, item in zip(room.students, batch["items"], strict=True):
            (name,) = [one for one in names if student.name in one and "cover" not in one]
            pack = archive.read(name)
            assert pack == room.tutor.get(f"{item['links']['pack']}/pack.pdf").content
        table = archive.read("table.csv")
        cover = archive.extract(names[6], tmp_path)
    assert [one.name for one in read_roster(table)] == [one.name for one in room.students]
    assert "Bring your own board." in words(Path(cover), 1)


def test_the_table_tells_who_has_what(room: Any, batch: Json) -> None:
    answer = room.tutor.get(batch["links"]["table"])
    assert answer.headers["Content-Type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert [row["Student"] for row in rows] == [student.name for student in room.students]
    assert {row["State"] for row in rows} == {"ready"}
    assert [row["Pack"] for row in rows] == [item["number"] for item in batch["items"]]
    assert (rows[1]["Title"], rows[1]["Width mm"], rows[2]["Sheet"]) == ("Large", "600.0", A3)


@pytest.mark.parametrize("covers", [False, True])
def test_print_runs_hold_separators_and_packs_in_roster_order(
    room: Any, batch: Json, tmp_path: Path, *, covers: bool
) -> None:
    paths = {run["sheet_format"]: run["path"] for run in batch["print_runs"]}
    assert set(paths) == {A4, A3}
    for sheet_format, path in paths.items():
        answer = room.tutor.get(path, params={"covers": covers} if covers else {})
        assert answer.status_code == 200, answer.text
        run = tmp_path / f"{sheet_format}.pdf"
        run.write_bytes(answer.content)
        items = [item for item in batch["items"] if item["sheet_format"] == sheet_format]
        _check_run(room, run, items, extra=1 + covers)


def _check_run(room: Any, run: Path, items: list[Json], *, extra: int) -> None:
    """A separator (and a cover), then the pack's pages with their boxes."""
    with pikepdf.open(run) as whole, whole.open_outline() as outline:
        assert whole.check_pdf_syntax() == []
        assert whole.Root.ViewerPreferences.PrintScaling == "/None"
        assert len({tuple(map(float, page.MediaBox)) for page in whole.pages}) == 1
        assert [one.title for one in outline.root] == [item["student"]["name"] for item in items]
        place = 0
        for number, item in enumerate(items, 1):
            separator = words(run, place + 1)
            assert f"{number} of {len(items)}" in separator
            assert item["number"] in separator
            assert str(item["sheets"]) in separator.split()
            pack = room.tutor.get(f"{item['links']['pack']}/pack.pdf").content
            place += extra
            with pikepdf.open(io.BytesIO(pack)) as alone:
                for page in alone.pages:
                    copy = whole.pages[place]
                    assert copy.get("/TrimBox") == page.get("/TrimBox")
                    assert copy.Contents.read_raw_bytes() == page.Contents.read_raw_bytes()
                    place += 1
        assert place == len(whole.pages)


def words(path: Path, page: int) -> str:
    """The text of a page as Poppler reads it."""
    command = ["pdftotext", "-layout", "-f", str(page), "-l", str(page), str(path), "-"]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def test_many_photos_go_to_one_support_and_who_has_none_is_told(room: Any, photo: bytes) -> None:
    own = room.askers[4].upload(photo)
    asked = room.tutor.post(room.batches, {"title": "Own", "spec": SPEC})
    assert asked.status_code == 202, asked.text
    made = room.tutor.ended(asked.json()["links"]["self"])
    states = [item["state"] for item in made["items"]]
    assert states == ["missing"] * 4 + ["ready", "missing"]
    assert made["items"][4]["links"]["reference"].endswith(own)
    assert made["items"][0]["error"] == {
        "code": "not-found",
        "detail": "There is no photo yet.",
    }


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_table_as_a_spreadsheet_saves_it(room: Any, reference_id: str, encoding: str) -> None:
    table = (
        "Student;support.width_mm;height_mm;Sheet;Title\r\n"
        "王小明;420,5;297;A3;静物\r\n"
        "amélie  dvořáková;200;150;A4;\r\n"
    )
    answer = room.tutor.post(
        room.batches,
        data=table.encode(encoding),
        headers={"Content-Type": "text/csv"},
        params={"title": "From a table", "reference_id": reference_id},
    )
    assert answer.status_code == 202, answer.text
    made = room.tutor.ended(answer.json()["links"]["self"])
    told = [(item["student"]["name"], item["title"], item["state"]) for item in made["items"]]
    assert told == [
        ("Amélie Dvořáková", "From a table", "ready"),
        ("王小明", "静物", "ready"),
    ]
    assert [run["sheet_format"] for run in made["print_runs"]] == [A3, A4]


@pytest.mark.parametrize(
    ("body", "code", "told"),
    [
        ({"items": [{"student": "Nobody"}]}, "request-invalid", "items.0.student"),
        ({"items": [{"student": "Nobody"}], "table": "x"}, "request-invalid", "not both"),
        ({"table": "Student\nNobody"}, "table-unreadable", "Line 2"),
        ({"table": "Student;widht_mm\nAda;1"}, "table-unreadable", "widht_mm"),
        ({"table": f"{HEAD}\n{ANN};-5;;"}, "table-unreadable", "Line 2, column Width, value -5: "),
        (
            {"table": f"{HEAD}\n\n{ANN};;A44;"},
            "table-unreadable",
            "Line 3, column Sheet, value A44",
        ),
        ({"table": f"{HEAD}\n{ANN};;;{'x' * 201}"}, "table-unreadable", "Line 2, column Title, v"),
        ({"table": f"Student;photo\n{ANN};mine"}, "table-unreadable", "column photo, value mine: "),
        ({"table": f"Student;photo\n{ANN};{NONE}"}, "table-unreadable", f"value {NONE}: There is"),
        ({"spec": {"support": {"width_mm": -1, "height_mm": 5}}}, "spec-invalid", "width_mm"),
        ({"spec": {}}, "spec-invalid", "support"),
        ({"spec": {**SPEC, "colour": 1}}, "spec-invalid", '"colour"'),
        (
            {"items": [{"spec": {"sheet": {"size": 1}}}]},
            "request-invalid",
            "items.0.spec.sheet.size",
        ),
        # An item is read before it is asked whether there is a photo for it.
        (
            {"items": [{"spec": {"a": 1}}], "reference_id": None},
            "request-invalid",
            "items.0.spec.a",
        ),
        ({"reference_id": NONE}, "request-invalid", "no such reference"),
        ({"title": "two\nlines"}, "request-invalid", "title"),
    ],
)
def test_what_cannot_be_made_is_refused_whole(
    room: Any, reference_id: str, body: Json, code: str, told: str
) -> None:
    before = len(room.tutor.get(room.batches).json()["items"])
    wish = {"reference_id": reference_id, "spec": SPEC, **body}
    answer = room.tutor.post(room.batches, wish)
    assert answer.status_code == 422, answer.text
    assert answer.json()["code"] == code
    assert told in answer.text
    estimated = room.tutor.post(f"{room.batches}/estimate", wish)
    # Nobody's own photo is a line of the estimate, beside lines for which there is one.
    if "reference_id" not in body or body["reference_id"] is None:
        assert (estimated.status_code, estimated.json()["code"]) == (422, code), estimated.text
        assert told in estimated.text
    assert len(room.tutor.get(room.batches).json()["items"]) == before


def test_what_only_does_not_fit_says_where_the_table_asks_for_it(
    room: Any, reference_id: str
) -> None:
    """It leaves that line out and stops nobody else."""
    table = f"Student;Border\n{ANN};99\n王小明;5"
    wish = {"reference_id": reference_id, "spec": SPEC, "table": table}
    first, second = room.tutor.post(f"{room.batches}/estimate", wish).json()["items"]
    assert first["error"]["code"] == "picture-too-small"
    assert first["error"]["detail"].startswith("Line 2, column Border, value 99: The border leaves")
    assert second["sheets"] > 0


def test_names_that_differ_in_a_comma_are_told_apart_in_a_table(
    running: Any, photo: bytes, open_class: Any
) -> None:
    room = open_class(running, ("Müller, Jürgen", "Müller Jürgen", "Okafor Ada"))
    wish = {"reference_id": room.tutor.upload(photo), "spec": SPEC}

    def asked(*names: str) -> Any:
        table = "\n".join(["Student", *(f'"{name}"' for name in names)])
        return room.tutor.post(f"{room.batches}/estimate", {**wish, "table": table})

    exact = asked("Müller Jürgen", "Müller, Jürgen", "okafor, ada").json()["items"]
    assert [one["student"]["id"] for one in exact] == [one.id for one in room.students]
    either = asked("Okafor Ada", "Mueller-Juergen")
    assert (either.status_code, either.json()["code"]) == (422, "table-unreadable")
    detail = either.json()["detail"]
    assert detail.startswith("Line 3, column Student, value Mueller-Juergen: Several")
    for one in room.students[:2]:
        assert one.name in detail
        assert one.id in detail
    named = asked(*(one.id for one in room.students)).json()["items"]
    assert [one["student"]["id"] for one in named] == [one.id for one in room.students]


def test_another_students_photo_is_nobody_elses(room: Any, photo: bytes) -> None:
    theirs = room.askers[4].upload(photo)
    items = [{"student": room.students[0].id, "reference_id": theirs}]
    answer = room.tutor.post(f"{room.batches}/estimate", {"items": items, "spec": SPEC})
    assert answer.json()["items"][0]["error"]["code"] == "not-found"


def test_asked_twice_with_one_key_it_is_made_once(room: Any, reference_id: str) -> None:
    body = {"reference_id": reference_id, "spec": SPEC, "items": [{"title": "My own"}]}
    headers = {"Idempotency-Key": "batch-1"}
    first, again = (room.tutor.post(room.batches, body, headers=headers) for _ in range(2))
    assert first.status_code == again.status_code == 202
    assert first.json() == again.json()
    item = room.tutor.ended(first.json()["links"]["self"])["items"][0]
    assert (item["student"], item["state"]) == (None, "ready")


def test_cancelled_then_deleted(room: Any, reference_id: str) -> None:
    large = {"support": {"width_mm": 2000, "height_mm": 1500}}
    asked = room.tutor.post(room.batches, {"reference_id": reference_id, "spec": large}).json()
    path = asked["links"]["self"]
    for fetched in ("archive.zip", f"print-run/{A4}.pdf"):
        early = room.tutor.get(f"{path}/{fetched}")
        assert (early.status_code, early.json()["code"]) == (409, "pack-not-ready")
    assert room.tutor.get(f"{path}/print-run/{A3}.pdf").status_code == 404
    assert room.tutor.call("DELETE", path).status_code == 202
    ended = room.tutor.ended(path)
    assert ended["state"] == "cancelled"
    assert ended["counts"].get("cancelled", 0) >= 4
    assert room.tutor.call("DELETE", path).status_code == 204
    assert room.tutor.get(path).status_code == 404
    for item in ended["items"]:
        assert room.tutor.get(item["links"]["pack"]).status_code == 404


def test_a_course_website_does_it_all_with_the_library(
    room: Any, reference_id: str, tmp_path: Path
) -> None:
    ricalco = Ricalco(room.tutor.url, key=room.tutor.key)
    with pytest.raises(PapersRefused, match="Line 2"):
        ricalco.batches.estimate(room.class_id, {"table": "Student\nNobody"})
    wish = {"reference_id": reference_id, "spec": SPEC, "title": "Library"}
    assert ricalco.batches.estimate(room.class_id, wish)["packs"] == 6
    batch = ricalco.batches.create(room.class_id, wish)
    batch = ricalco.batches.wait(batch.id, timeout_s=60)
    assert (batch.state, batch.counts, batch.sheet_formats) == ("ready", {"ready": 6}, (A4,))
    archive = ricalco.batches.download_archive(batch.id, tmp_path / "packs.zip")
    run = ricalco.batches.download_print_run(batch.id, A4, tmp_path / "run.pdf", covers=True)
    table = ricalco.batches.download_table(batch.id, tmp_path / "table.csv")
    assert zipfile.is_zipfile(archive)
    assert "COVER" in words(run, 2)
    assert len(read_roster(table.read_bytes())) == 6
    ricalco.batches.delete(batch.id)
    assert room.tutor.get(f"/v1/batches/{batch.id}").status_code == 404


def test_no_name_and_no_title_is_logged(room: Any, batch: Json) -> None:
    log = room.running.log.read_text()
    assert batch["id"] not in ("", None)
    for told in [*(student.name for student in room.students), "Portrait", "rck_"]:
        assert told not in log


def test_a_batch_of_five_hundred_lines_with_wishes_of_their_own_is_read(
    running: Any, open_class: Any, photo: bytes
) -> None:
    """A roster as full as one may be: each line has a title, a note and a spec of its own."""
    names = tuple(f"Student {number:03} Ő" for number in range(500))
    room = open_class(running, names)
    items = [
        {
            "student": student.id,
            "title": f"Study {place} · 習作",
            "note": "Bring a soft pencil, a kneaded eraser and your own board. " * 4,
            "spec": {"support": {"width_mm": 300 + place % 5, "height_mm": 200, "border_mm": 5}},
        }
        for place, student in enumerate(room.students)
    ]
    wish = {"reference_id": room.tutor.upload(photo), "items": items}
    assert len(json.dumps(wish)) > 2 * MAX_JSON_BYTES
    told = room.tutor.post(f"{room.batches}/estimate", wish)
    assert told.status_code == 200, told.text
    assert (told.json()["packs"], len(told.json()["items"])) == (500, 500)
    # Elsewhere a body is as small as it was, and this one has a bound too.
    other = room.tutor.post("/v1/plans", wish)
    assert (other.status_code, other.json()["code"]) == (413, "body-too-large")
    wish["note"] = "x" * MAX_BATCH_BYTES
    beyond = room.tutor.post(f"{room.batches}/estimate", wish)
    assert (beyond.status_code, beyond.json()["code"]) == (413, "body-too-large")


def test_a_course_site_sends_each_students_photo_and_names_them_as_it_has_them(
    running: Any, photo: bytes, open_class: Any
) -> None:
    room = open_class(running, ("Zoë Müller", "李小龍"))
    site = room.tutor.post("/v1/sites", {"name": "Course pages"}).json()
    service = Ricalco(room.tutor.url, key=site["key"])
    for student in service.classes.students(room.class_id):
        taken = service.references.upload(io.BytesIO(photo), student_id=student["id"])
        assert taken.id
    wish = {"spec": SPEC}
    assert service.batches.estimate(room.class_id, wish)["packs"] == 2
    table = "Student;title\nZoe Mueller;Hands\n李小龍;\n"
    found = service.batches.estimate(room.class_id, {**wish, "table": table})["items"]
    assert [one["student"]["name"] for one in found] == ["Zoë Müller", "李小龍"]
    with pytest.raises(PapersRefused, match="Line 2, column Student, value Zoe Muse: Nobody"):
        service.batches.estimate(room.class_id, {"table": "Student\nZoe Muse\n"})


def test_who_asked_for_a_pack_gets_it_as_they_asked_on_the_tutors_sheets(
    running: Any, photo: bytes, open_class: Any
) -> None:
    """Frame, support and style are theirs; sheets and printer are whose who prints."""
    room = open_class(running, ("Ann Lee", "Bo Ek", "Cem Ay"))
    ann, bo, cem = room.askers
    references = [asker.upload(photo) for asker in (ann, bo, cem)]
    framed = {
        "support": {"width_mm": 150, "height_mm": 200},
        "crop": {"left": 0.3, "top": 0.1, "width": 0.3, "height": 0.4},
        "tone": {"style": "values"},
        "seams": {"protect": [{"left": 0.2, "top": 0.2, "width": 0.1, "height": 0.1}]},
        "print": {"across_correction": 1.01, "printer": "Ann's own"},
    }
    for asker, reference_id in ((ann, references[0]), (cem, references[2])):
        asked = asker.post("/v1/packs", {"reference_id": reference_id, "spec": framed})
        assert asked.status_code == 202, asked.text
    board = room.tutor.get(f"/v1/classes/{room.class_id}/board").json()["students"]
    assert [one["asked"] for one in board] == [True, False, True]
    wish = {
        "as_asked": True,
        "spec": {**SPEC, "sheet": {"format": A3}, "print": {"down_correction": 0.995}},
        "items": [
            {"student": "Ann Lee"},
            {"student": "Bo Ek"},
            {"student": "Cem Ay", "spec": {"support": {"width_mm": 240, "height_mm": 180}}},
        ],
    }
    made = room.tutor.post(room.batches, wish)
    assert made.status_code == 202, made.text
    ended = room.tutor.ended(made.json()["links"]["self"])
    assert ended["counts"] == {"ready": 3}
    theirs, plain, other = (
        room.tutor.get(item["links"]["pack"]).json()["spec"] for item in ended["items"]
    )
    assert (theirs["crop"], theirs["tone"]["style"]) == (framed["crop"], "values")
    assert theirs["seams"]["protect"] == framed["seams"]["protect"]
    assert (theirs["support"]["height_mm"], theirs["sheet"]["format"]) == (200, A3)
    printed = {"across_correction": 1.0, "down_correction": 0.995, "printer": ""}
    assert {name: theirs["print"][name] for name in printed} == printed
    assert (plain["support"]["width_mm"], plain["tone"]["style"]) == (300, "grey")
    # On another support what was framed for theirs means nothing.
    assert (other["support"]["width_mm"], other["tone"]["style"]) == (240, "values")
    assert (other["crop"], other["seams"]["protect"]) == (None, [])
    anew = room.tutor.post(room.batches, {**wish, "as_asked": "perhaps"})
    assert (anew.status_code, anew.json()["field"]) == (422, "as_asked")
