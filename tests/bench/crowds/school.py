"""The whole arrangement with a tutor, a class and a photo: what both measurements begin with."""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
import requests
import skimage.data
from requests.adapters import HTTPAdapter

from deploy.arrangement.arrangement import Arrangement
from tests.pictures.photographs import as_jpeg, enlarged
from worker.store.ledger import Ledger, NewClass

STUDENTS = 30
#: Those of the tests: a picture of 60 x 40 cm on six sheets.
SPEC = {"support": {"width_mm": 600, "height_mm": 400}}


class _From(HTTPAdapter):
    """Connects from one address of this machine."""

    def __init__(self, address: str) -> None:
        self._source = address, 0
        super().__init__()

    def init_poolmanager(self, *sizes: Any, **more: Any) -> None:
        super().init_poolmanager(*sizes, **more, source_address=self._source)


@dataclass(frozen=True)
class School:
    """What is asked, and by whom.

    Attributes:
        arrangement: All its programs.
        keys: The tutor's first, then one of each student.
        reference_id: A photo of the tutor's, of two megapixels.
    """

    arrangement: Arrangement
    keys: tuple[str, ...]
    reference_id: str

    def call(self, method: str, path: str, key: str = "", **more: Any) -> requests.Response:
        """One request, by the tutor unless somebody else's key is given."""
        key = key or self.keys[0]
        session = requests.Session()
        session.mount("http://", _From(self.source(self.keys.index(key))))
        headers = {"Authorization": f"Bearer {key}"}
        url = self.arrangement.address + path
        return session.request(method, url, headers=headers, timeout=120, **more)

    def source(self, number: int) -> str:
        """An address for each person: nginx limits what comes from one."""
        return f"127.0.{1 + number // 250}.{1 + number % 250}"

    def ask(self, key: str = "", reference_id: str = "", **tone: Any) -> dict[str, Any]:
        """Ask for a pack; the answer's body."""
        wanted = {"reference_id": reference_id or self.reference_id, "spec": {**SPEC, **tone}}
        answer = self.call("POST", "/v1/packs", key, json=wanted)
        answer.raise_for_status()
        return dict(answer.json())

    def await_end(self, pack_id: str, key: str = "") -> str:
        """The state in which a pack ends."""
        while True:
            state = str(self.call("GET", f"/v1/packs/{pack_id}", key).json()["state"])
            if state not in {"queued", "making"}:
                return state
            time.sleep(0.2)

    def processes(self) -> dict[str, list[psutil.Process]]:
        """Those of each part."""
        found = {}
        for name, part in self.arrangement.parts.items():
            first = psutil.Process(part.pid)
            found[name] = [first, *first.children(recursive=True)]
        return found


@contextmanager
def opened(*, workers: int = 2) -> Iterator[School]:
    """A school, whose programs are ended afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="ricalco-school-"))
    arrangement = Arrangement(folder, workers=workers)
    try:
        arrangement.start()
        url = arrangement.parts["web"].environment["RICALCO_DATABASE_URL"]
        with closing(Ledger.open(url)) as ledger:
            tutor, issued = ledger.people.add_tutor("Tutor of thirty")
            group = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Thursday"))
            names = tuple(f"Student {number}" for number in range(STUDENTS))
            students = ledger.students.add(group.id, tutor.id, names)
            keys = [ledger.people.issue_key(student.id).key for student in students]
        school = School(arrangement, (issued.key, *keys), "")
        yield School(arrangement, school.keys, sent(school, small_photo()))
    finally:
        arrangement.stop()
        shutil.rmtree(folder)


def sent(school: School, photo: bytes, key: str = "") -> str:
    """Send a photo; its id."""
    files = {"file": ("photo.jpg", photo, "image/jpeg")}
    answer = school.call("POST", "/v1/references", key, files=files)
    answer.raise_for_status()
    return str(answer.json()["id"])


def small_photo() -> bytes:
    """Two megapixels of the astronaut that ships with scikit-image (NASA, public domain)."""
    return as_jpeg(enlarged(skimage.data.astronaut(), 1600, 1200))
