"""One command starts both, keeps both going, stops both, and says plainly what is wrong."""

from __future__ import annotations

import io
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import pytest
from PIL import Image

from tests.waiting import HANG_S

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[3]


def supervise(folder: Path, **settings: object) -> subprocess.CompletedProcess[str]:
    """Run a supervisor that should give up at once."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("RICALCO_")}
    ours = {f"RICALCO_{name}": str(value) for name, value in settings.items()}
    env = {**kept, "PYTHONPATH": str(ROOT), "RICALCO_DATA_DIR": str(folder), **ours}
    command = [sys.executable, "-m", "service.supervisor.supervise"]
    return subprocess.run(
        command, env=env, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False
    )


def one_plain_line(result: subprocess.CompletedProcess[str], *words: str) -> None:
    """Exit code 3, and one line that names what to mend."""
    assert result.returncode == 3, result.stderr
    assert result.stderr.count("\n") == 1
    assert "Traceback" not in result.stderr
    for word in words:
        assert word in result.stderr


def test_a_port_that_is_taken(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        one_plain_line(supervise(tmp_path, PORT=port), str(port), "RICALCO_PORT")


def test_a_folder_that_cannot_be_written(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("no folder")
    one_plain_line(supervise(in_the_way / "data"), str(in_the_way))


def test_a_setting_that_cannot_be(tmp_path: Path) -> None:
    one_plain_line(supervise(tmp_path, PORT="many"), "RICALCO_PORT")


@pytest.mark.parametrize("host", ["0.0.0.0", "::"])  # noqa: S104
def test_an_address_that_strangers_reach(tmp_path: Path, host: str) -> None:
    one_plain_line(supervise(tmp_path, HOST=host), "RICALCO_HOST", "tutor")


def eventually(true: Callable[[], Any], within_s: float = HANG_S) -> None:
    """Wait, or fail."""
    until = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < until
        time.sleep(0.05)


def test_a_dead_child_is_started_again(
    start_service: Callable[..., Any], api_of: Callable[..., Any], photo: bytes
) -> None:
    running = start_service()
    api = api_of(running)
    reference = api.upload(photo).json()
    web, worker = running.children()
    worker.kill()
    eventually(lambda: len(running.children()) == 2 and worker not in running.children())
    pack = api.ended(api.ask(reference["id"]).json()["links"]["self"])
    assert pack["state"] == "ready"
    web.kill()
    eventually(lambda: web not in running.children() and len(running.children()) == 2)
    eventually(lambda: _answers(api))
    assert api.get(pack["links"]["self"]).json()["state"] == "ready"


def _answers(api: Any) -> bool:
    try:
        return bool(api.get("/healthz").ok)
    except OSError:
        return False


def family(running: Any) -> list[psutil.Process]:
    """All that descends from the supervisor."""
    return psutil.Process(running.process.pid).children(recursive=True)


def test_children_end_with_a_supervisor_that_is_killed(start_service: Callable[..., Any]) -> None:
    running = start_service()
    children = family(running)
    running.process.kill()
    running.process.wait(10)
    eventually(lambda: not any(_runs(child) for child in children))


@pytest.mark.parametrize("name", ["SIGTERM", "SIGINT"])
def test_a_stop_is_clean(start_service: Callable[..., Any], name: str) -> None:
    running = start_service()
    children = family(running)
    running.process.send_signal(signal.Signals[name])
    assert running.process.wait(HANG_S) == 0
    assert not any(_runs(child) for child in children)
    log = running.log.read_text()
    assert "Traceback" not in log
    assert "started again" not in log
    assert "does not stop" not in log


def _runs(child: psutil.Process) -> bool:
    try:
        return bool(child.is_running() and child.status() != psutil.STATUS_ZOMBIE)
    except psutil.NoSuchProcess:
        return False


def test_twenty_packs_survive_the_death_of_everything(
    start_service: Callable[..., Any], api_of: Callable[..., Any], photo: bytes
) -> None:
    """Kill -9 of the worker, then of the whole service, then a start on the same folder."""
    running = start_service(LEASE_SECONDS=3)
    api = api_of(running)
    reference = api.upload(photo).json()
    spec = {"support": {"width_mm": 600, "height_mm": 400}}
    paths = [api.ask(reference["id"], spec=spec).json()["links"]["self"] for _ in range(20)]
    eventually(lambda: any(api.get(path).json()["state"] == "ready" for path in paths))
    _, worker = running.children()
    for process in [*worker.children(recursive=True), worker]:
        process.kill()
    eventually(lambda: len(running.children()) == 2 and worker not in running.children())
    states = [api.get(path).json()["state"] for path in paths]
    assert {"queued", "making"} & set(states), states
    for process in [psutil.Process(running.process.pid), *family(running)]:
        process.kill()
    running.process.wait(10)
    again = api_of(start_service(DATA_DIR=running.data_dir, LEASE_SECONDS=3))
    packs = [again.ended(path) for path in paths]
    assert [pack["state"] for pack in packs] == ["ready"] * 20
    pdfs = {again.get(pack["files"]["pack"]).content for pack in packs}
    assert len(pdfs) == 1
    for pack in packs:
        assert len(list(running.data_dir.rglob(f"{pack['id']}/*/pack.pdf"))) == 1
    eventually(lambda: not list((running.data_dir / "files" / ".work").glob("*")))


def unanswered(running: Any) -> list[str]:
    """Idempotency keys that a request holds."""
    with closing(sqlite3.connect(running.data_dir / "ledger.db", timeout=10)) as ledger:
        keys = ledger.execute("SELECT key FROM idempotency_keys WHERE status IS NULL")
        return [key for (key,) in keys]


def test_a_request_that_died_can_be_sent_again_at_once(
    start_service: Callable[..., Any], api_of: Callable[..., Any]
) -> None:
    """Its key blocked the repetition for two minutes; far less is waited for here."""
    running = start_service()
    api = api_of(running)
    random = np.random.default_rng(3)
    noise = Image.fromarray(random.integers(0, 255, (3000, 4000, 3), dtype=np.uint8))
    file = io.BytesIO()
    noise.save(file, "JPEG", quality=70)
    photo = file.getvalue()

    def send(key: str) -> int:
        try:
            return int(api.upload(photo, **{"Idempotency-Key": key}).status_code)
        except OSError:
            return 0

    def killed(key: str) -> bool:
        """Kill the web in the midst of a request; False where that was done already."""
        web = running.children()[0]
        with ThreadPoolExecutor(1) as pool:
            sent = pool.submit(send, key)
            eventually(lambda: sent.done() or key in unanswered(running))
            web.kill()
            sent.result()
        return key in unanswered(running)

    key = next(key for key in ("first", "second", "third", "fourth") if killed(key))
    with closing(sqlite3.connect(running.data_dir / "ledger.db")) as ledger:
        count = "SELECT count(*) FROM photos"
        before = ledger.execute(count).fetchone()[0]
        answers: list[int] = []
        eventually(lambda: answers.append(send(key)) or answers[-1] == 201)
        assert set(answers) <= {0, 409, 201}
        assert send(key) == 201
        assert ledger.execute(count).fetchone()[0] == before + 1
