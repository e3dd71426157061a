"""A real photograph, a real service in a process of its own, and the command as people run it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import requests
from PIL import Image
from skimage import data

from tests.servers.ports import free_port

START_S = 30


def environment(folder: Path) -> dict[str, str]:
    """The environment without settings of Ricalco, with an empty data folder."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("RICALCO_")}
    return {**kept, "RICALCO_DATA_DIR": str(folder), "PYTHONWARNINGS": "default"}


@pytest.fixture(scope="session")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The astronaut that ships with scikit-image (NASA, public domain), 512 × 512 px."""
    path = tmp_path_factory.mktemp("photo") / "portrait.jpg"
    Image.fromarray(data.astronaut()).save(path, quality=92)
    return path


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a service that `ricalco serve` started."""
    port = free_port()
    command = [sys.executable, "-m", "client.command", "serve", "--port", str(port)]
    log = tmp_path_factory.mktemp("log") / "serve.log"
    with log.open("wb") as output:
        process = subprocess.Popen(
            command,
            env=environment(tmp_path_factory.mktemp("data")),
            stdout=output,
            stderr=subprocess.STDOUT,
        )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_until_it_answers(address, process, log)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=90)


def _wait_until_it_answers(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + START_S
    while time.monotonic() < until and process.poll() is None:
        try:
            if requests.get(f"{address}/readyz", timeout=1).ok:
                return
        except requests.RequestException:
            time.sleep(0.1)
    pytest.fail(f"no service: {log.read_text()}")


@pytest.fixture
def ricalco(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """Runs the command in an empty folder, its output in pipes."""

    def run(*words: object) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "client.command", *map(str, words)],
            cwd=tmp_path,
            env={**environment(tmp_path / "data"), "PYTHONPATH": str(Path.cwd())},
            capture_output=True,
            text=True,
            timeout=150,
            check=False,
        )

    return run
