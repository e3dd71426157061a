"""Record the examples of the OpenAPI document: what a tutor's first hour asks and is answered.

    .venv/bin/python deploy/demo/answers.py

Run it when a schema has changed; it writes `service/contract/examples.json`, by names of schemas.
Ids, keys and times are replaced, so that only what changed differs. Nothing but the answers is
made up: no worker runs, so the one pack that is ready gets files without content.
"""

from __future__ import annotations

import io
import json
import re
import tempfile
from contextlib import closing
from http import HTTPStatus
from pathlib import Path
from typing import Any

from flask import Flask
from werkzeug.test import TestResponse

from service.app import create_app
from service.runtime.context import EXTENSION
from worker.settings import Settings
from worker.store.ledger import PackResult

FOLDER = Path(__file__).resolve().parent
TARGET = FOLDER.parents[1] / "service" / "contract" / "examples.json"
PHOTO = FOLDER / "still_life.jpg"
A4 = "iso_a4_210x297mm"
SUPPORT = {"support": {"width_mm": 300, "height_mm": 200}}
CORNERS = [[0.1, 0.1], [0.9, 0.12], [0.88, 0.9], [0.12, 0.88]]
#: A list of many alike needs two to be understood.
MOST = 2
Json = dict[str, Any]


class Recorder:
    """Asks a service, and keeps one request and one answer for each schema."""

    def __init__(self, app: Flask) -> None:
        self._client = app.test_client()
        self._contract: Json = self._client.get("/v1/openapi.json").get_json()
        self._rules = app.url_map.bind("127.0.0.1")
        self.key: str | None = None
        self.kept: Json = {}

    def ask(self, method: str, path: str, body: Any = None) -> Any:
        """The answer to a request, which must be none of a refusal."""
        headers = {"Authorization": f"Bearer {self.key}"} if self.key else {}
        answer = self._client.open(path, method=method, json=body, headers=headers)
        return self._keep(method, answer, body)

    def send(self, path: str, photo: bytes) -> Any:
        """The answer to a photo."""
        headers = {"Authorization": f"Bearer {self.key}"} if self.key else {}
        form = {"file": (io.BytesIO(photo), "jug.jpg")}
        return self._keep("POST", self._client.post(path, data=form, headers=headers), None)

    def _keep(self, method: str, answer: TestResponse, body: Any) -> Any:
        if answer.status_code >= HTTPStatus.BAD_REQUEST:
            raise SystemExit(answer.text)
        rule, _ = self._rules.match(answer.request.path, method, return_rule=True)
        path = re.sub(r"<\w+:(\w+)>", r"{\1}", rule.rule)
        operation = self._contract["paths"][path][method.lower()]
        sent = operation.get("requestBody", {}).get("content", {}).get("application/json")
        if sent:
            self.kept.setdefault(_name(sent), body)
        told = operation["responses"][str(answer.status_code)]["content"]["application/json"]
        self.kept.setdefault(_name(told), answer.get_json())
        return answer.get_json()


def _name(content: Json) -> str:
    return str(content["schema"]["$ref"]).rpartition("/")[2]


def record(app: Flask) -> Json:
    """The examples, by names of schemas."""
    asked = Recorder(app)
    made = asked.ask("POST", "/v1/tutors", {"name": "Ada Okafor"})
    asked.key = made["key"]
    photo = asked.send("/v1/references", PHOTO.read_bytes())["id"]
    _alone(asked, app, photo)
    class_, batch = _class(asked, app, photo)
    _links(asked, batch)
    _site(asked, class_)
    return asked.kept


def _alone(asked: Recorder, app: Flask, photo: str) -> None:
    """One photo, one pack, one printer."""
    wish = {"reference_id": photo, "spec": {**SUPPORT, "tone": {"style": "outline"}}}
    asked.ask("POST", "/v1/plans", wish)
    place = {"left": 120, "top": 80, "width": 60, "height": 40}
    asked.kept["PreviewRequest"] = {**wish, "width_px": 800, "part_mm": place}
    gridded = {**SUPPORT, "tone": {"style": "outline"}, "grid": {"square_mm": 50}}
    asked.kept["GridRequest"] = {"reference_id": photo, "spec": gridded, "title": "Still life"}
    pack = asked.ask("POST", "/v1/packs", {**wish, "title": "Jug and pears"})
    del asked.kept["Pack"]
    _make_packs(app, pack["plan"]["rows"])
    # The plan is an example of its own.
    del asked.ask("GET", f"/v1/packs/{pack['id']}")["plan"]
    asked.kept["Pack"].pop("plan", None)
    asked.ask("PATCH", f"/v1/packs/{pack['id']}", {"printed": True})
    asked.ask("GET", "/v1/me/packs")
    squared = {"corners": CORNERS, "proportion": 1.5}
    asked.ask("POST", f"/v1/references/{photo}/squared", squared)
    asked.ask("GET", f"/v1/references?sha256={'0' * 64}")
    reading = {"format": A4, "across_mm": 199.2, "down_mm": 200.0}
    asked.ask("POST", "/v1/readings", reading)
    printer = asked.ask("POST", "/v1/printers", {**reading, "name": "Attic"})
    asked.ask("PATCH", f"/v1/printers/{printer['id']}", {"name": "Attic, left tray"})
    for path in ("/v1/printers", "/v1/sheet-formats", "/healthz", "/v1/me", "/v1/me/keys"):
        asked.ask("GET", path)
    asked.ask("POST", "/v1/me/keys", {"label": "Tablet"})
    hook = {"url": "https://course.example/hooks", "events": ["batch.done", "student.joined"]}
    asked.ask("POST", "/v1/webhooks", hook)
    asked.ask("POST", "/v1/sign-in", {"key": asked.key})


def _make_packs(app: Flask, total: int) -> None:
    """What a worker does, with files without content."""
    context = app.extensions[EXTENSION]
    while claim := context.ledger.claim("examples"):
        with context.storage.workspace() as folder:
            for name in ("pack.pdf", "map.png", "picture.jpg"):
                (folder / name).touch()
            context.storage.publish(folder, claim.files_key)
        result = PackResult(number="7K3F-Q2ZD", files_key=claim.files_key, total=total)
        context.ledger.finish(claim, result)


def _class(asked: Recorder, app: Flask, photo: str) -> tuple[Json, Json]:
    """A class, its roster, and a batch for it."""
    settings = {"defaults": SUPPORT, "may_change": ["crop", "tone"], "packs": 3}
    wish = {"name": "Thursday evening", "settings": settings}
    class_ = asked.ask("POST", "/v1/classes", wish)
    path = class_["links"]["self"]
    opened = asked.ask("PATCH", path, {"joining_open": True, "settings": {"show_names": True}})
    asked.ask("GET", "/v1/classes")
    roster = asked.ask("POST", f"{path}/students", {"names": ["Ada Okafor", "王小明"]})["items"]
    order = [one["id"] for one in reversed(roster)]
    asked.ask("PATCH", f"{path}/students", {"order": order})
    asked.ask("PATCH", f"{path}/students/{order[0]}", {"name": "Wang Xiaoming"})
    batch: Json = {"title": "Still life", "reference_id": photo, "spec": SUPPORT}
    items = [{"student": one, "note": "Bring a board."} for one in order]
    batch = {**batch, "items": items}
    asked.ask("POST", f"{path}/batches/estimate", batch)
    made = asked.ask("POST", f"{path}/batches", batch)
    (run,) = made["print_runs"]
    asked.ask("GET", f"{path}/batches")
    asked.ask("GET", f"{path}/board")
    _make_packs(app, run["sheets"])
    asked.ask("GET", run["ticket"])
    asked.ask("GET", f"/v1/join?code={opened['join_code']}")
    asked.ask("POST", "/v1/join", {"code": opened["join_code"], "student_id": order[1]})
    _lesson(asked, path, photo, order[1])
    _webhook(asked)
    return class_, made


def _lesson(asked: Recorder, path: str, photo: str, student: str) -> None:
    """What comes up in a lesson, and after its last one."""
    crop = {"left": 0.1, "top": 0.1, "width": 0.6, "height": 0.6}
    asked.ask("PUT", f"{path}/picture", {"reference_id": photo, "spec": {"crop": crop}})
    asked.ask("GET", f"{path}/packs?number=7K3F-Q2ZD")
    link = asked.ask("POST", f"{path}/student-keys/{student}/links")
    secret = link["url"].partition("=")[2]
    tutor, asked.key = asked.key, None
    asked.ask("POST", "/v1/key-links", {"secret": secret, "label": "phone"})
    asked.key = tutor
    asked.ask("POST", f"{path}/copies", {"name": "Thursday evening, spring"})


def _webhook(asked: Recorder) -> None:
    """What a webhook was told, and its changes."""
    hook = asked.ask("GET", "/v1/webhooks")["items"][0]
    told = asked.ask("GET", hook["links"]["deliveries"])["items"]
    asked.ask("POST", told[0]["links"]["replays"])
    asked.ask("POST", hook["links"]["secrets"], {"overlap_s": 86400})
    asked.ask("PATCH", hook["links"]["self"], {"enabled": True})


def _links(asked: Recorder, batch: Json) -> None:
    """Links to a file of a pack and to a print run."""
    pack = batch["items"][0]
    asked.ask("POST", f"/v1/packs/{pack['pack_id']}/links", {"file": "pack.pdf", "valid_s": 300})
    wish = {"file": f"print-run/{A4}.pdf", "covers": True}
    asked.ask("POST", f"/v1/batches/{batch['id']}/links", wish)


def _site(asked: Recorder, class_: Json) -> None:
    """A course site, made by the tutor, and what its server asks."""
    path, origin = class_["links"]["self"], "https://course.example"
    wish = {"name": "Course pages", "class_ids": [class_["id"]], "origins": [origin]}
    made = asked.ask("POST", "/v1/sites", wish)
    site = f"/v1/sites/{made['site']['id']}"
    asked.ask("PATCH", site, {"name": "Course pages of the atelier"})
    asked.ask("POST", f"{site}/keys", {"label": "From March on"})
    teacher = {"name": "Ines Duarte"}
    asked.key, tutors_key = made["key"], asked.key
    student = asked.ask("PUT", f"{path}/students/by-external-id/user-17", {"name": "Ada Okafor"})
    asked.ask("GET", f"{path}/students/by-external-id/user-17")
    session = asked.ask("POST", "/v1/sessions", {"student_id": student["id"], "origin": origin})
    asked.ask("POST", f"/v1/sessions/{session['id']}/renewals")
    asked.key = tutors_key
    asked.ask("PUT", f"{path}/tutors/by-external-id/teacher-4", teacher)
    for told in (site, "/v1/sites", f"{site}/keys", f"{site}/log", f"{path}/tutors"):
        asked.ask("GET", told)


class Replacements:
    """Ids, keys, codes, times and sums that differ in every run, each with one that stays."""

    def __init__(self) -> None:
        self._ids: dict[str, str] = {}

    def of(self, part: Any) -> Any:
        """The same with what stays in place of what differs."""
        if isinstance(part, dict):
            return {name: self.of(value) for name, value in part.items()}
        if isinstance(part, list):
            return [self.of(one) for one in part]
        return self._text(part) if isinstance(part, str) else part

    def _text(self, text: str) -> str:
        text = re.sub(r"^\d{4}-\d\d-\d\dT\S+$", "2026-03-02T09:30:00+00:00", text)
        text = re.sub(r"\b(rc[klnt])_[\w-]{43}", r"\1_" + "Example" * 6 + "0", text)
        text = re.sub(r"\bwhsec_\S+", "whsec_" + "Example" * 6 + "0=", text)
        ids = r"\b(ref|pck|cls|stu|bat|sit|ses|key|prn|tut|whk|msg)_[\w-]{22}"
        return re.sub(ids, self._id, text)

    def _id(self, found: re.Match[str]) -> str:
        number = len(self._ids) + 1
        return self._ids.setdefault(found[0], f"{found[1]}_Example{number:015d}")


def main() -> None:
    """Write the examples."""
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Settings(data_dir=Path(folder)))
        with closing(app.extensions[EXTENSION].ledger):
            kept = record(app)
    kept["Sizes"]["items"] = kept["Sizes"]["items"][:MOST]
    document = json.dumps(kept, ensure_ascii=False)
    for code in set(re.findall(r'"join_code": "([^"]+)"', document)):
        document = document.replace(code, "QF3K-7M2Z").replace(code.replace("-", ""), "QF3K7M2Z")
    shown = Replacements().of(json.loads(document))
    words = json.dumps(dict(sorted(shown.items())), indent=1, ensure_ascii=False)
    TARGET.write_text(f"{words}\n", encoding="utf-8")
    print(f"{TARGET.name}: {len(shown)} examples, {len(words)} letters.")


if __name__ == "__main__":
    main()
