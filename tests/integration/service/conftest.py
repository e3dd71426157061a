"""A real service, supervised, on a free port, with a real photograph to send."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psutil
import pytest
import requests
from PIL import Image
from skimage import data

from tests.servers.ports import free_port
from tests.waiting import HANG_S

ROOT = Path(__file__).resolve().parents[3]
SPEC = {"support": {"width_mm": 300, "height_mm": 200}}


@dataclass
class Running:
    """A supervisor, its address, and what it said."""

    url: str
    process: subprocess.Popen[bytes]
    data_dir: Path
    log: Path

    def children(self) -> list[psutil.Process]:
        """Web and worker, in the order in which they were started."""
        return psutil.Process(self.process.pid).children()

    def stop(self) -> int:
        """SIGTERM, and its exit code."""
        self.process.terminate()
        return self.process.wait(90)


def environment(folder: Path, **settings: object) -> dict[str, str]:
    """This environment, with nobody's settings but these."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("RICALCO_")}
    ours = {f"RICALCO_{name}": str(value) for name, value in settings.items()}
    return {**kept, "PYTHONPATH": str(ROOT), "RICALCO_DATA_DIR": str(folder), **ours}


def start(folder: Path, **settings: object) -> Running:
    """Start a supervisor and wait until it says where the service is."""
    folder.mkdir(parents=True, exist_ok=True)
    settings = {"PORT": free_port(), "WORKERS": 2, **settings}
    log = folder / "service.log"
    with log.open("wb") as output:
        process = subprocess.Popen(
            [sys.executable, "-m", "service.supervisor.supervise"],
            cwd=folder,
            env=environment(folder / "data", **settings),
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    url = f"http://127.0.0.1:{settings['PORT']}"
    running = Running(url=url, process=process, data_dir=folder / "data", log=log)
    wait_until(lambda: f"Ricalco is at {url}" in log.read_text(), running)
    return running


def wait_until(true: Callable[[], Any], running: Running, within_s: float = HANG_S) -> None:
    """Wait, or fail the test with what the service said."""
    until = time.monotonic() + within_s
    while not true():
        if time.monotonic() > until or running.process.poll() is not None:
            pytest.fail(f"not within {within_s} s:\n{running.log.read_text()[-4000:]}")
        time.sleep(0.05)


@pytest.fixture(scope="session")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A service that most tests share."""
    service = start(tmp_path_factory.mktemp("service"), MAX_UPLOAD_BYTES=6_000_000)
    yield service
    assert service.stop() == 0
    assert "Traceback" not in service.log.read_text()


@pytest.fixture
def start_service(tmp_path: Path) -> Iterator[Callable[..., Running]]:
    """Starts services of one's own; none is left behind."""
    services: list[Running] = []

    def begin(**settings: object) -> Running:
        services.append(start(tmp_path / str(len(services)), **settings))
        return services[-1]

    yield begin
    for service in services:
        if service.process.poll() is None:
            service.stop()


@pytest.fixture(scope="session")
def photo() -> bytes:
    """The astronaut that ships with scikit-image (NASA, public domain), 512 × 512 px."""
    file = io.BytesIO()
    Image.fromarray(data.astronaut()).save(file, "JPEG", quality=92)
    return file.getvalue()


@dataclass
class Api:
    """Short ways to the calls that most tests need."""

    url: str

    def upload(self, photo: bytes, **headers: str) -> requests.Response:
        """Send a photo."""
        files = {"file": ("photo.jpg", photo, "image/jpeg")}
        return requests.post(f"{self.url}/v1/references", files=files, headers=headers, timeout=60)

    def ask(self, reference_id: str, key: str | None = None, **more: Any) -> requests.Response:
        """Ask for a pack."""
        body = {"reference_id": reference_id, "spec": SPEC, **more}
        headers = {"Idempotency-Key": key} if key else {}
        return requests.post(f"{self.url}/v1/packs", json=body, headers=headers, timeout=60)

    def get(self, path: str, **headers: str) -> requests.Response:
        """Read something."""
        return requests.get(self.url + path, headers=headers, timeout=60)

    def delete(self, path: str) -> requests.Response:
        """Delete something."""
        return requests.delete(self.url + path, timeout=60)

    def ended(self, path: str, within_s: float = HANG_S) -> dict[str, Any]:
        """The pack once it has ended."""
        until = time.monotonic() + within_s
        while True:
            pack: dict[str, Any] = self.get(path).json()
            if pack["state"] in {"ready", "failed", "cancelled"}:
                return pack
            assert time.monotonic() < until, pack["state"]
            time.sleep(0.05)


@pytest.fixture(scope="session")
def api(running: Running) -> Api:
    """The shared service's API."""
    return Api(running.url)


@pytest.fixture(scope="session")
def api_of() -> Callable[[Running], Api]:
    """The API of another service."""
    return lambda running: Api(running.url)


@pytest.fixture(scope="session")
def reference(api: Api, photo: bytes) -> dict[str, Any]:
    """A photo that was taken in."""
    answer = api.upload(photo)
    assert answer.status_code == 201, answer.text
    return dict(answer.json())


@pytest.fixture(scope="session")
def pack(api: Api, reference: dict[str, Any]) -> dict[str, Any]:
    """A pack that is ready."""
    answer = api.ask(reference["id"], title="Portrait, évora 静")
    assert answer.status_code == 202, answer.text
    ready = api.ended(answer.json()["links"]["self"])
    assert ready["state"] == "ready", ready
    return ready


@pytest.fixture(scope="session")
def launch() -> Callable[..., Running]:
    """Starts a service; whoever starts it stops it."""
    return start
