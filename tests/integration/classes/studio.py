"""Two tutors with a class each, everything in process: who sees what, without a network."""

from __future__ import annotations

import functools
import io
import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from flask import Flask
from flask.testing import FlaskClient
from PIL import Image
from werkzeug.test import TestResponse

from service.app import _make_context, create_app
from service.runtime.context import EXTENSION, ServiceContext, make_intake
from tests.documented import not_documented
from worker.reference.isolated import Intake
from worker.settings import Settings
from worker.store.ledger import SCOPES, SESSION_SCOPES, PackResult

SPEC = {"support": {"width_mm": 180, "height_mm": 120}}
#: Of the pages of tutor A's course sites.
ORIGIN = "https://course.example"
TITLES = ("Krug № 7", "瓶の静物")


def photo(seed: int) -> bytes:
    """A small photo that no other has."""
    noise = np.random.default_rng(seed).integers(0, 255, (60, 90, 3), dtype=np.uint8)
    file = io.BytesIO()
    Image.fromarray(noise).save(file, "PNG")
    return file.getvalue()


@dataclass(frozen=True)
class Asker:
    """Someone who asks with a key, or with none."""

    client: FlaskClient
    key: str | None

    def ask(self, method: str, path: str, **how: Any) -> TestResponse:
        """One request; whatever comes back is held to the OpenAPI document."""
        headers = dict(how.pop("headers", {}))
        if self.key is not None:
            headers["Authorization"] = f"Bearer {self.key}"
        answer = self.client.open(path, method=method, headers=headers, **how)
        undocumented = not_documented(self.client.application, answer)
        assert not undocumented, undocumented
        return answer

    def made(self, path: str, body: Any) -> Any:
        """What a POST made."""
        answer = self.ask("POST", path, json=body)
        assert answer.status_code < 300, answer.text
        return answer.json


@functools.cache
def decoder() -> Intake:
    """One for all studios: its processes know none of them, and take a second to start."""
    return make_intake(Settings(data_dir=Path()))


class Studio:
    """The service in this process, and who is in it."""

    def __init__(self, folder: Path, keys: dict[str, str] | None = None) -> None:
        self.folder = folder
        self.app: Flask = create_app(Settings(data_dir=folder))
        self.context: ServiceContext
        self._use(self.app.extensions[EXTENSION])
        self.keys: dict[str, str] = dict(keys or {})
        self.ids: dict[str, str] = {}

    def asker(self, name: str) -> Asker:
        """Someone by their name here; `nobody` has no key."""
        client = self.app.test_client(use_cookies=False)
        return Asker(client, self.keys.get(name))

    def copy(self, folder: Path) -> Studio:
        """The same studio again, for a test that breaks something."""
        self.context.ledger.close()
        shutil.copytree(self.folder, folder, ignore=shutil.ignore_patterns("reserve"))
        other = Studio(folder, self.keys)
        other.ids = dict(self.ids)
        return other

    def become(self, other: Studio) -> None:
        """Be a copy of another from now on; the application stays, which takes longest to make."""
        self.close()
        other.close()
        shutil.rmtree(self.folder)
        shutil.copytree(other.folder, self.folder, ignore=shutil.ignore_patterns("reserve"))
        self.keys, self.ids = dict(other.keys), dict(other.ids)
        self._use(_make_context(self.context.settings))

    def _use(self, context: ServiceContext) -> None:
        self.context = self.app.extensions[EXTENSION] = replace(context, intake=decoder())

    def close(self) -> None:
        """Give the ledger back."""
        self.context.ledger.close()

    def send_photo(self, name: str, seed: int, query: str = "") -> str:
        """Someone sends a photo; returns its id."""
        answer = self.asker(name).ask(
            "POST",
            f"/v1/references{query}",
            data={"file": (io.BytesIO(photo(seed)), "IMG_0042 Leïla.png")},
        )
        assert answer.status_code == 201, answer.text
        return str(answer.json["id"])

    def ask_for_pack(self, name: str, reference_id: str, title: str = "") -> str:
        """Someone asks for a pack; returns its id."""
        body = {"reference_id": reference_id, "spec": SPEC, "title": title}
        return str(self.asker(name).made("/v1/packs", body)["id"])

    def make_packs(self) -> None:
        """What the workers do, with files that say nothing."""
        while claim := self.context.ledger.claim("test"):
            with self.context.storage.workspace() as folder:
                for file in ("pack.pdf", "map.png"):
                    (folder / file).write_bytes(claim.pack.title.encode() or b"file")
                Image.new("L", (60, 40), 200).save(folder / "picture.jpg")
                self.context.storage.publish(folder, claim.files_key)
            assert claim.pack.plan is not None
            made = PackResult(number="7K3F-Q2ZD", files_key=claim.files_key, total=1)
            assert self.context.ledger.finish(claim, made)


def furnish(folder: Path) -> Studio:
    """Tutors A and B; A's class has students A1 and A2, B's has B1; sites act for A.

    `site A` may do all that there is for sites to do in A's class, `site A reads` may look, and
    `site A elsewhere` may do all in another class. `second A` teaches in A's class too. A1 and
    A2 are in sessions of site A; that of `session A1 fetches` is for fetching alone. A1 and B1
    have a photo, a finished pack and a printer, and the tutors a batch. Site A has a webhook,
    which is to be told of that.
    """
    studio = Studio(folder)
    people = studio.context.ledger.people
    for tutor in ("A", "B"):
        studio.keys[f"tutor {tutor}"] = people.add_tutor(f"Tutor {tutor}")[1].key
        _class(studio, tutor, ("1", "2") if tutor == "A" else ("1",))
    _sites(studio)
    second, issued = people.add_tutor("Second A")
    studio.keys["second A"], studio.ids["tutor_id A"] = issued.key, second.id
    studio.context.ledger.external_ids.put_tutor(
        studio.ids["class_id A"], people.tutors()[0].id, "second", tutor_id=second.id
    )
    hook = {"url": "https://hooks.example/ricalco"}
    made = studio.asker("site A").made("/v1/webhooks", hook)["webhook"]
    studio.ids["webhook_id A"] = made["id"]
    own = studio.asker("tutor A").made("/v1/me/keys", {"label": "tablet"})
    studio.ids["key_id A"] = own["key_id"]
    studio.make_packs()
    told = studio.asker("site A").ask("GET", made["links"]["deliveries"]).json["items"]
    studio.ids["message_id A"] = told[0]["id"]
    link = studio.asker("student A1").made(f"/v1/packs/{studio.ids['pack_id A']}/links", {})
    studio.keys["link A"] = link["url"].partition("?secret=")[2]
    # However late a test comes, they last.
    with studio.context.ledger.people._database.writing() as connection:
        connection.exec_driver_sql("update sessions set ends_at = ends_at + 1000000")
        connection.exec_driver_sql("update links set ends_at = ends_at + 1000000")
    return studio


def _sites(studio: Studio) -> None:
    asker = studio.asker("tutor A")
    elsewhere = asker.made("/v1/classes", {"name": "Elsewhere"})["id"]
    there, whole = studio.ids["class_id A"], list(SCOPES)
    for name, class_id, scopes in (
        ("site A", there, whole),
        ("site A reads", there, ["read-class"]),
        ("site A elsewhere", elsewhere, whole),
    ):
        limits = {"class_ids": [class_id], "scopes": scopes, "origins": [ORIGIN]}
        made = asker.made("/v1/sites", {"name": name, **limits})
        studio.keys[name] = made["key"]
        studio.ids[name], studio.ids[f"key of {name}"] = made["site"]["id"], made["key_id"]
    studio.ids["site_id A"] = studio.ids["site A"]
    path = f"/v1/classes/{there}/students/by-external-id/u-1"
    studio.asker("site A").ask("PUT", path, json={"name": "Known A"})
    for name, student, scopes in (
        ("session A1", "student_id A1", list(SESSION_SCOPES)),
        ("session A1 fetches", "student_id A1", ["fetch-packs"]),
        ("session A2", "student_id A2", list(SESSION_SCOPES)),
    ):
        wish = {"student_id": studio.ids[student], "origin": ORIGIN, "scopes": scopes}
        started = studio.asker("site A").made("/v1/sessions", wish)
        studio.keys[name], studio.ids["session_id A"] = started["token"], started["id"]


def _class(studio: Studio, tutor: str, students: tuple[str, ...]) -> None:
    asker = studio.asker(f"tutor {tutor}")
    settings = {"show_names": True, "defaults": SPEC}
    wish = {"name": f"Class {tutor}", "joining_open": True, "settings": settings}
    class_ = asker.made("/v1/classes", wish)
    studio.ids[f"class_id {tutor}"] = class_["id"]
    studio.ids[f"code {tutor}"] = class_["join_code"]
    names = [f"Student {tutor}{number}" for number in students]
    asker.made(f"/v1/classes/{class_['id']}/students", {"names": [*names, f"Free {tutor}"]})
    for number, name in zip(students, names, strict=True):
        joined = asker.made("/v1/join", {"code": class_["join_code"], "name": name})
        studio.keys[f"student {tutor}{number}"] = joined["key"]
        studio.ids[f"student_id {tutor}{number}"] = joined["person"]["id"]
    student = f"student {tutor}1"
    reference_id = studio.send_photo(student, ord(tutor))
    studio.ids[f"reference_id {tutor}"] = reference_id
    studio.ids[f"pack_id {tutor}"] = studio.ask_for_pack(student, reference_id, TITLES[0])
    printer = {"name": "Attic", "format": "iso_a4_210x297mm", "across_mm": 199.2}
    made = studio.asker(student).made("/v1/printers", printer)
    studio.ids[f"printer_id {tutor}"] = made["id"]
    batch = asker.made(f"/v1/classes/{class_['id']}/batches", {"title": "Monday"})
    studio.ids[f"batch_id {tutor}"] = batch["id"]
