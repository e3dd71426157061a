"""The real things: a Redis server on a free port, and worker processes to kill."""

from __future__ import annotations

import io
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import psutil
import pytest
import redis
from PIL import Image, ImageFilter

from tests.integration.window import PATIENCE_MS, PHONE, Window
from tests.servers.ports import free_port
from tests.waiting import HANG_S, wait_until
from worker.jobs import wake
from worker.layout.planning import plan_sheets
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.settings import Settings
from worker.spec.json import dump_plan, load_spec
from worker.spec.study import ReferenceStudy
from worker.store.files import Storage, open_storage
from worker.store.ledger import (
    FINAL_STATES,
    LOCAL_OWNER,
    Ledger,
    NewPack,
    PackRow,
    PackState,
    ReferenceRow,
    open_ledger,
)

#: Nobody's name is looked up, so that a browser's request elsewhere fails as well as being seen.
ALONE = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost"
ROOT = Path(__file__).resolve().parents[2]
WindowKind = TypeVar("WindowKind", bound=Window)
_WINDOWS = pytest.StashKey[list[Window]]()
FAKE_WORKER = ROOT / "tests" / "integration" / "queue" / "fake_worker.py"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files with the most of slow tests begin first, then those with the most tests.

    Files run side by side: a long one that begins last is waited for by all others.
    """
    tests = Counter(item.path for item in items)
    slow = Counter(item.path for item in items if item.get_closest_marker("slow"))
    items.sort(key=lambda item: (-slow[item.path], -tests[item.path]))


class Child:
    """A program under test; its error output is kept and can be waited for."""

    def __init__(self, command: list[str], env: dict[str, str]) -> None:
        self._output: list[str] = []
        self.process = subprocess.Popen(
            command,
            cwd=ROOT,
            env={**os.environ, "PYTHONUNBUFFERED": "1", **env},
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stderr is not None
        for line in self.process.stderr:
            self._output.append(line)

    @property
    def output(self) -> str:
        """All it wrote to standard error so far."""
        return "".join(self._output)

    def wait_for(self, text: str, within_s: float = HANG_S) -> None:
        """Wait until it wrote this; fail the test if it ends without."""
        deadline = time.monotonic() + within_s
        while text not in self.output:
            ended = self.process.poll() is not None
            assert not ended, f"ended with {self.process.returncode}:\n{self.output}"
            assert time.monotonic() < deadline, f"no {text!r} in:\n{self.output}"
            time.sleep(0.02)

    def family(self) -> list[psutil.Process]:
        """The process and all that descend from it."""
        try:
            process = psutil.Process(self.process.pid)
            return [process, *process.children(recursive=True)]
        except psutil.NoSuchProcess:
            return []

    def kill(self) -> None:
        """Kill -9 of the process alone; its children must cope."""
        self.process.kill()
        self.process.wait(HANG_S)

    def end(self, within_s: float = HANG_S) -> int:
        """SIGTERM, and wait for the orderly end."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(within_s)

    def clean_up(self) -> None:
        """Leave nothing behind, whatever the test did."""
        for process in reversed(self.family()):
            process.kill()
        self.process.wait(HANG_S)
        self._reader.join(5)
        for stream in (self.process.stdin, self.process.stderr):
            if stream is not None:
                stream.close()


class RedisServer:
    """A Redis of our own, with the settings that deployment uses."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self._folder = folder
        self._process: subprocess.Popen[bytes] | None = None
        self.start()

    @property
    def url(self) -> str:
        """The broker URL."""
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        """Start, and wait until it answers."""
        arguments = ["--port", str(self.port), "--bind", "127.0.0.1", "--dir", str(self._folder)]
        lasting = ["--appendonly", "yes", "--maxmemory-policy", "noeviction", "--save", ""]
        self._process = subprocess.Popen(
            ["redis-server", *arguments, *lasting], stdout=subprocess.DEVNULL
        )
        wait_until(self._answers)

    def kill(self) -> None:
        """Kill -9."""
        assert self._process is not None
        self._process.kill()
        self._process.wait(10)

    def _answers(self) -> bool:
        try:
            with redis.Redis(port=self.port) as client:
                return bool(client.ping())
        except redis.RedisError:
            return False


@pytest.fixture
def redis_server(tmp_path: Path) -> Iterator[RedisServer]:
    folder = tmp_path / "redis"
    folder.mkdir()
    server = RedisServer(folder)
    yield server
    server.kill()


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """One machine, with leases short enough for a test."""
    return Settings(data_dir=tmp_path / "data", workers=2, lease_seconds=3)


@pytest.fixture
def ledger(settings: Settings) -> Iterator[Ledger]:
    opened = open_ledger(settings)
    opened.migrate()
    yield opened
    opened.close()


@pytest.fixture
def storage(settings: Settings) -> Storage:
    return open_storage(settings)


class Desk:
    """Asks for packs, and holds them to what must be true after any fault."""

    def __init__(self, ledger: Ledger, storage: Storage, settings: Settings) -> None:
        self.ledger = ledger
        self.storage = storage
        self.settings = settings
        self.ids: list[str] = []
        self.study: ReferenceStudy | None = None
        row = ReferenceRow(width_px=40, height_px=30, format="jpeg", sha256="0" * 64)
        self.reference_id = ledger.add_reference(row).id

    def plan(self, **spec: Any) -> dict[str, Any] | None:
        """What the service would store: the plan of a photo that is really there."""
        return self.study and dump_plan(plan_sheets(load_spec(spec), self.study))

    def ask(self, count: int = 1, **spec: Any) -> list[str]:
        """Ask for packs, and wake a worker as the service does."""
        return self.ask_as_planned(self.plan(**spec), count, **spec)

    def ask_as_planned(self, plan: dict[str, Any] | None, count: int = 1, **spec: Any) -> list[str]:
        """The same with a plan of one's own."""
        ids = []
        for _ in range(count):
            new = NewPack(reference_id=self.reference_id, spec=spec, plan=plan)
            ids.append(self.ledger.enqueue(new).id)
            wake(self.settings)
        self.ids += ids
        return ids

    def row(self, pack_id: str) -> PackRow:
        """One pack."""
        return self.ledger.pack(pack_id, LOCAL_OWNER)

    def count(self, *states: PackState) -> int:
        """How many of the packs that were asked for are in these states."""
        return sum(self.row(pack_id).state in states for pack_id in self.ids)

    def wait_ended(self, within_s: float = HANG_S) -> None:
        """Wait until every pack has ended."""
        wait_until(lambda: self.count(*FINAL_STATES) == len(self.ids), within_s)

    def check(self) -> None:
        """Exactly what must be there is there, and it is whole."""
        wait_until(lambda: not self.leftovers())
        for row in map(self.row, self.ids):
            assert row.ended
            assert row.attempt <= self.settings.attempts
            attempts = list(self.storage.keys(f"packs/{row.id}"))
            assert attempts == ([row.files_key] if row.state == "ready" else [])
            for name in ("pack.pdf", "map.png") if row.state == "ready" else ():
                with self.storage.file(f"{row.files_key}/{name}") as path:
                    assert path.stat().st_size > 0

    def leftovers(self) -> list[Path]:
        """Workspaces that are still there."""
        return list(self.settings.data_dir.glob("*/.work/*"))


@pytest.fixture
def desk(ledger: Ledger, storage: Storage, settings: Settings) -> Desk:
    return Desk(ledger, storage, settings)


def photo() -> io.BytesIO:
    """Soft noise with a few edges: something to trace, made in code."""
    random = np.random.default_rng(7)
    noise = Image.fromarray(random.integers(0, 255, (900, 1200, 3), dtype=np.uint8))
    file = io.BytesIO()
    noise.filter(ImageFilter.GaussianBlur(6)).save(file, "jpeg", quality=90)
    file.seek(0)
    return file


@pytest.fixture
def real_reference(ledger: Ledger, storage: Storage, desk: Desk) -> str:
    """A reference taken in as the service does it; the desk asks for packs of it."""
    with storage.workspace() as folder:
        taken = take_in(photo(), folder, Limits())
        row = ReferenceRow(
            width_px=taken.width_px,
            height_px=taken.height_px,
            format=taken.format,
            sha256=taken.sha256,
        )
        storage.publish(folder, row.files_key)
    desk.reference_id, desk.study = ledger.add_reference(row).id, taken.study
    return desk.reference_id


@pytest.fixture
def start_worker() -> Iterator[Callable[..., Child]]:
    """Start worker processes: `start_worker(settings, fake=True)`."""
    children: list[Child] = []

    def start(settings: Settings, *arguments: str, fake: bool = False) -> Child:
        program = [str(FAKE_WORKER)] if fake else ["-m", "worker.jobs.process"]
        env = settings.to_env() | {"PYTHONPATH": str(ROOT)}
        child = Child([sys.executable, *program, *arguments], env)
        children.append(child)
        child.wait_for("ready.")
        return child

    yield start
    for child in children:
        child.clean_up()
        # Shown by pytest beside a test that failed.
        sys.stderr.write(child.output)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """The system's own Chromium, one for all: Playwright runs once in a process."""
    # Most of these tests need none.
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    program = shutil.which("chromium")
    assert program, "the browser tests need chromium: bash deploy/test.sh installs it"
    arguments = ["--no-sandbox", "--disable-dev-shm-usage", ALONE]
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program, args=arguments)
        yield opened
        opened.close()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item) -> Generator[None]:
    """Close a test's windows before its servers stop: an open page asks those in vain, aloud."""
    try:
        for window in item.stash.get(_WINDOWS, []):
            window.context.close()
    finally:
        yield


@pytest.fixture
def window_of(browser: Any, request: pytest.FixtureRequest) -> Iterator[Callable[..., Any]]:
    """Opens windows at phone size; what they complained of is checked at the end."""
    windows: list[Window] = []
    request.node.stash[_WINDOWS] = windows

    def begin(kind: type[WindowKind], own: dict[str, Any], **more: Any) -> WindowKind:
        usual = {"viewport": PHONE, "locale": "en-GB", "has_touch": True, "is_mobile": True}
        context = browser.new_context(**{**usual, **more})
        context.set_default_timeout(PATIENCE_MS)
        window = kind(page=context.new_page(), context=context, **own)
        windows.append(window)
        return window

    yield begin
    for window in windows:
        window.check()


@pytest.fixture(scope="session")
def portrait() -> bytes:
    """The astronaut that ships with scikit-image (NASA, public domain), 512 × 512 px."""
    # Most of these tests need none.
    from skimage import data  # noqa: PLC0415

    file = io.BytesIO()
    Image.fromarray(data.astronaut()).save(file, "JPEG", quality=92)
    return file.getvalue()


@pytest.fixture
def portrait_file(portrait: bytes, tmp_path: Path) -> Path:
    """The same as a file, as a phone has it."""
    path = tmp_path / "portrait.jpg"
    path.write_bytes(portrait)
    return path
