"""A service with a tutor, a class and keys; everything after that goes over HTTP."""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from typing import Any

import pytest
import requests
import skimage.data
from PIL import Image

from tests.integration.classes.studio import Studio, furnish
from tests.integration.service.conftest import Running, start
from tests.pictures.photographs import as_jpeg, enlarged
from tests.waiting import HANG_S
from worker.store.ledger import Ledger, NewClass, StudentRow

Json = dict[str, Any]
NAMES = (
    "Amélie Dvořáková",
    "ليلى بن يوسف",
    "王小明",
    "प्रिया शर्मा",
    "נועה לוי",
    "👩🏽‍🎨 Kit",
)


@dataclass(frozen=True)
class Asker:
    """Someone with a key."""

    url: str
    key: str
    session: requests.Session = field(default_factory=requests.Session)

    def call(self, method: str, path: str, **how: Any) -> requests.Response:
        """One request; it is sent again where the service says that it is busy."""
        headers = {"Authorization": f"Bearer {self.key}", **how.pop("headers", {})}
        while True:
            answer = self.session.request(
                method, self.url + path, headers=headers, timeout=300, **how
            )
            if answer.status_code != 503:
                return answer
            time.sleep(float(answer.headers.get("Retry-After", 1)))

    def get(self, path: str, **how: Any) -> requests.Response:
        """Read something."""
        return self.call("GET", path, **how)

    def post(self, path: str, body: Json | None = None, **how: Any) -> requests.Response:
        """Ask for something."""
        return self.call("POST", path, **({"json": body} if body is not None else {}), **how)

    def upload(self, photo: bytes) -> str:
        """Send a photo; returns its id."""
        answer = self.post("/v1/references", files={"file": ("photo.jpg", photo, "image/jpeg")})
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def ended(self, path: str, within_s: float = HANG_S, every_s: float = 0.1) -> Json:
        """A pack or a batch once it has ended."""
        until = time.monotonic() + within_s
        while True:
            found: Json = self.get(path).json()
            if found["state"] not in {"queued", "making"}:
                return found
            assert time.monotonic() < until, found["state"]
            time.sleep(every_s)


@dataclass(frozen=True)
class Room:
    """A tutor, their class, and its students in roster order."""

    running: Running
    tutor: Asker
    class_id: str
    students: tuple[StudentRow, ...]
    askers: tuple[Asker, ...]

    @property
    def batches(self) -> str:
        """Where batches of the class are asked for."""
        return f"/v1/classes/{self.class_id}/batches"


def open_room(running: Running, names: tuple[str, ...], **settings: Any) -> Room:
    """Put a tutor and a class straight into the ledger; keys open from then on."""
    url = f"sqlite:///{(running.data_dir / 'ledger.db').as_posix()}"
    with closing(Ledger.open(url)) as ledger:
        tutor, issued = ledger.people.add_tutor("Tutor")
        group = ledger.classes.add(NewClass(tutor_id=tutor.id, name="Thursday 7b", **settings))
        students = ledger.students.add(group.id, tutor.id, names)
        keys = [ledger.people.issue_key(student.id).key for student in students]
    askers = tuple(Asker(running.url, key) for key in keys)
    return Room(running, Asker(running.url, issued.key), group.id, students, askers)


@pytest.fixture(scope="session")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """Two tutors with a class each (studio.py). It is made once; whoever asks takes a copy."""
    made = furnish(tmp_path_factory.mktemp("furnished") / "data")
    yield made
    made.close()


@pytest.fixture(scope="session")
def spare(furnished: Studio, tmp_path_factory: pytest.TempPathFactory) -> Studio:
    """A studio to be made like another whenever what was done to it shall be undone."""
    return furnished.copy(tmp_path_factory.mktemp("spare") / "data")


@pytest.fixture
def studio(furnished: Studio, spare: Studio) -> Iterator[Studio]:
    """A studio that a test may change as it likes."""
    spare.become(furnished)
    yield spare
    spare.close()


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    service = start(tmp_path_factory.mktemp("service"))
    yield service
    assert service.stop() == 0
    assert "Traceback" not in service.log.read_text()


@pytest.fixture(scope="module")
def room(running: Running) -> Room:
    return open_room(running, NAMES)


@pytest.fixture(scope="session")
def photo() -> bytes:
    """The astronaut that ships with scikit-image (NASA, public domain), 512 × 512 px."""
    file = io.BytesIO()
    Image.fromarray(skimage.data.astronaut()).save(file, "JPEG", quality=92)
    return file.getvalue()


@pytest.fixture(scope="session")
def camera_photo() -> Callable[[int], bytes]:
    """Twelve megapixels with a camera's grain; each number is another photo."""
    base = as_jpeg(enlarged(skimage.data.astronaut(), 4000, 3000))
    # A comment segment (ITU-T T.81, B.2.4.5) makes it another file at no cost.
    return lambda number: base[:2] + b"\xff\xfe\x00\x06%04d" % number + base[2:]


@pytest.fixture(scope="session")
def open_class() -> Callable[..., Room]:
    """Opens a class on a running service."""
    return open_room
