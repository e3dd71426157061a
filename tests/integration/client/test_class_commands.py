"""Class, roster, batch and its files, by the command alone."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pytest
import requests
from PIL import Image
from skimage import data

from client.command import exit_codes
from tests.integration.service.conftest import Running, start

NAMES = ("Ann Lee", "Şule Öz", "李小龍")


@dataclass(frozen=True)
class Tutor:
    """Runs the command with a tutor's key."""

    service: Running
    key: str
    folder: Path

    def run(self, *words: object, key: str | None = None) -> subprocess.CompletedProcess[str]:
        """Run one command, with the key in the environment."""
        return subprocess.run(
            [sys.executable, "-m", "client.command", *map(str, words), "--service", self.url],
            cwd=self.folder,
            env={"PYTHONPATH": str(Path.cwd()), "PYTHONUTF8": "1"}
            | ({"RICALCO_KEY": self.key} if key is None else {"RICALCO_KEY": key}),
            capture_output=True,
            text=True,
            timeout=150,
            check=False,
        )

    @property
    def url(self) -> str:
        """The address of the service."""
        return self.service.url

    def output(self, *words: object) -> str:
        """The standard output of a command that must succeed."""
        done = self.run(*words)
        assert done.returncode == exit_codes.DONE, done.stderr
        return done.stdout


@pytest.fixture(scope="module")
def tutor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tutor]:
    service = start(tmp_path_factory.mktemp("commands"))
    made = requests.post(f"{service.url}/v1/tutors", json={"name": "Ada Bell"}, timeout=30)
    folder = tmp_path_factory.mktemp("desk")
    Image.fromarray(data.astronaut()).save(folder / "photo.jpg", quality=92)
    yield Tutor(service, made.json()["key"], folder)
    assert service.stop() == 0


@pytest.fixture(scope="module")
def class_id(tutor: Tutor) -> str:
    """A class with a roster from a spreadsheet's file."""
    made = json.loads(
        tutor.output("class", "create", "Thursday 7b", "--support", "30x20cm", "--open", "--json")
    )
    (tutor.folder / "names.csv").write_text("\n".join(["Name", *NAMES]), encoding="utf-16")
    told = tutor.run("class", "roster", "thursday 7B", "--add", "names.csv")
    assert told.stderr == "3 added, 0 were there.\n"
    for name in NAMES:
        assert name in told.stdout
    again = tutor.run("class", "roster", made["id"], "--add", "names.csv", "--json")
    assert again.stderr == "0 added, 3 were there.\n"
    assert [one["name"] for one in json.loads(again.stdout)] == list(NAMES)
    return str(made["id"])


def test_classes_are_listed_with_their_codes(tutor: Tutor, class_id: str) -> None:
    shown = tutor.output("class", "list")
    (found,) = json.loads(tutor.output("class", "list", "--json"))
    assert found["id"] == class_id
    assert found["settings"]["defaults"]["support"] == {"width_mm": 300, "height_mm": 200}
    for words in ("Thursday 7b", class_id, found["join_code"], "open"):
        assert words in shown


def test_a_batch_from_a_table_is_started_and_fetched(tutor: Tutor, class_id: str) -> None:
    rows = (
        "Studente;larghezza_mm;altezza_mm;titolo\nAnn Lee;;;\nAnn Lee;400;300;Large\nŞule Öz;;;\n"
    )
    (tutor.folder / "wishes.csv").write_text(rows, encoding="utf-8-sig")
    words = (class_id, "--table", "wishes.csv", "--photo", "photo.jpg", "--title", "Portrait, 肖像")
    told = tutor.output("batch", "start", *words, "--try")
    assert "3 packs" in told
    assert json.loads(tutor.output("batch", "list", class_id, "--json")) == []
    made = json.loads(tutor.output("batch", "start", *words, "--wait", "--json"))
    assert (made["state"], made["counts"]) == ("ready", {"ready": 3})
    assert [item["title"] for item in made["items"]] == [
        "Portrait, 肖像",
        "Large",
        "Portrait, 肖像",
    ]
    listed = tutor.output("batch", "list", "Thursday 7b")
    assert made["id"] in listed
    assert "3 ready" in listed

    lines = tutor.output("batch", "fetch", made["id"], "--into", "out", "--covers").splitlines()
    paths = [tutor.folder / line for line in lines]
    assert [path.name for path in paths] == ["iso_a4_210x297mm.pdf", "packs.zip", "table.csv"]
    with pikepdf.open(paths[0]) as run:
        # Separator, cover, map and two pages of guide, and the sheets, for each of three.
        assert len(run.pages) == made["print_runs"][0]["pages"] + 2 * 3
    with zipfile.ZipFile(paths[1]) as archive:
        assert archive.testzip() is None
    table = csv.DictReader(io.StringIO(paths[2].read_text(encoding="utf-8-sig")))
    assert [row["Student"] for row in table] == ["Ann Lee", "Ann Lee", "Şule Öz"]


def test_packs_as_asked_style_and_grid_reach_the_batch(tutor: Tutor) -> None:
    create = ("class", "create", "Hands", "--support", "30x20cm", "--open", "--json")
    class_ = json.loads(tutor.output(*create))
    (tutor.folder / "three.csv").write_text("\n".join(NAMES), encoding="utf-8")
    tutor.output("class", "roster", class_["id"], "--add", "three.csv")
    mine = {"Authorization": f"Bearer {tutor.key}"}
    joining = {"code": class_["join_code"], "name": NAMES[2]}
    joined = requests.post(f"{tutor.url}/v1/join", json=joining, timeout=30).json()
    theirs = {"Authorization": f"Bearer {joined['key']}"}
    files = {"file": (tutor.folder / "photo.jpg").read_bytes()}
    photo = requests.post(
        f"{tutor.url}/v1/references", headers=theirs, files=files, timeout=30
    ).json()
    wish = {"reference_id": photo["id"], "spec": {"support": {"width_mm": 120, "height_mm": 120}}}
    asked = requests.post(f"{tutor.url}/v1/packs", headers=theirs, json=wish, timeout=30)
    assert asked.status_code == 202, asked.text

    words = (class_["id"], "--photo", "photo.jpg", "--style", "outline", "--grid", "4cm")
    found = json.loads(tutor.output("batch", "start", *words, "--as-asked", "--wait", "--json"))
    specs = [
        requests.get(f"{tutor.url}{item['links']['pack']}", headers=mine, timeout=30).json()["spec"]
        for item in found["items"]
    ]
    assert [spec["support"]["width_mm"] for spec in specs] == [300, 300, 120]
    assert [spec["tone"]["style"] for spec in specs] == ["outline", "outline", "grey"]
    assert [spec["grid"] and spec["grid"]["square_mm"] for spec in specs] == [40, 40, None]
    gone = requests.delete(f"{tutor.url}/v1/classes/{class_['id']}", headers=mine, timeout=30)
    assert gone.status_code == 204, gone.text


def test_who_has_no_photo_is_told_before_anything_is_made(tutor: Tutor, class_id: str) -> None:
    told = tutor.output("batch", "start", class_id, "--try")
    for name in NAMES:
        assert f"Left out: {name}: There is no photo yet." in told


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("class", "roster", "Nobody's"), exit_codes.USAGE, "There are: Thursday 7b"),
        (("batch", "start", "Thursday 7b", "--table", "bad.csv"), exit_codes.FAILED, "not known"),
        (
            ("batch", "start", "Thursday 7b", "--table", "bad.csv", "--support", "a3"),
            exit_codes.USAGE,
            "in its columns",
        ),
        (("class", "roster", "Thursday 7b", "--add", "empty.csv"), exit_codes.FAILED, "empty"),
        (("batch", "fetch", f"bat_{22 * 'A'}", "--into", "none"), exit_codes.FAILED, "no such"),
    ],
)
def test_what_cannot_be_done_is_one_plain_line(
    tutor: Tutor, class_id: str, words: tuple[str, ...], code: int, told: str
) -> None:
    assert class_id
    (tutor.folder / "bad.csv").write_text("Student;colour of hair\nAnn Lee;red\n")
    (tutor.folder / "empty.csv").write_text("\n")
    done = tutor.run(*words)
    assert done.returncode == code, done.stderr
    assert told in done.stderr
    assert done.stderr.count("\n") == 1
    assert not (tutor.folder / "none").exists()


@pytest.mark.parametrize("key", ["", "rck_wrong"])
def test_a_key_is_needed_and_is_not_told(tutor: Tutor, key: str) -> None:
    done = tutor.run("class", "list", key=key)
    assert done.returncode != exit_codes.DONE
    assert ("RICALCO_KEY" in done.stderr) is (key == "")
    assert "rck_wrong" not in done.stderr


def test_a_key_may_stand_in_a_file(tutor: Tutor, class_id: str, tmp_path: Path) -> None:
    path = tmp_path / "key"
    path.write_text(f"{tutor.key}\n")
    done = tutor.run("class", "list", "--key-file", path, key="")
    assert done.returncode == exit_codes.DONE, done.stderr
    assert class_id in done.stdout
