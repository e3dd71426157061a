"""What the service adds: from asking for a pack over HTTP to ready, beside making alone."""

from __future__ import annotations

import io
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import requests

from tests.bench.speed import SPEC, camera_photo
from tests.servers.ports import free_port
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.reference.decode import Limits
from worker.reference.intake import take_in

ROUNDS = 7
_JSON = {"support": {"width_mm": 600, "height_mm": 400}}


def report() -> None:
    """Start the real service on one machine, ask for packs one after the other, print."""
    photo = camera_photo()
    with tempfile.TemporaryDirectory() as name:
        port = free_port()
        settings = {"RICALCO_DATA_DIR": name, "RICALCO_PORT": str(port)}
        command = [sys.executable, "-m", "client.command", "serve"]
        with subprocess.Popen(
            command,
            env={**os.environ, **settings},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as service:
            try:
                _report(f"http://127.0.0.1:{port}", photo, Path(name))
            finally:
                service.terminate()


def _report(url: str, photo: bytes, folder: Path) -> None:
    await_ready(url)
    sent = requests.post(f"{url}/v1/references", files={"file": photo}, timeout=60)
    sent.raise_for_status()
    reference = sent.json()["id"]
    over_http = [_pack(url, reference) for _ in range(ROUNDS)][1:]
    plans = [_plan(url, reference) for _ in range(20)]
    making = _making_alone(photo, folder)
    asked, made = statistics.median(over_http), statistics.median(making)
    print("\nOver HTTP, one machine")
    print(f"  from asking to ready  {asked:6.3f} s")
    print(f"  planning and making   {made:6.3f} s")
    print(f"  on top                {asked - made:6.3f} s")
    print(f"  a plan over HTTP      {statistics.median(plans):6.3f} s")


def await_ready(url: str) -> None:
    """Wait until a service that was just started answers."""
    for _ in range(300):
        try:
            if requests.get(f"{url}/readyz", timeout=2).ok:
                return
        except requests.ConnectionError:
            pass
        time.sleep(0.1)
    message = "The service did not become ready."
    raise RuntimeError(message)


def _pack(url: str, reference: str) -> float:
    start = time.perf_counter()
    asked = requests.post(
        f"{url}/v1/packs", json={"reference_id": reference, "spec": _JSON}, timeout=30
    ).json()
    while True:
        state = requests.get(f"{url}/v1/packs/{asked['id']}", timeout=30).json()["state"]
        if state == "ready":
            return time.perf_counter() - start
        if state == "failed":
            message = "The pack failed."
            raise RuntimeError(message)
        time.sleep(0.01)


def _plan(url: str, reference: str) -> float:
    start = time.perf_counter()
    body = {"reference_id": reference, "spec": _JSON}
    requests.post(f"{url}/v1/plans", json=body, timeout=30).raise_for_status()
    return time.perf_counter() - start


def _making_alone(photo: bytes, folder: Path) -> list[float]:
    times = []
    study = take_in(io.BytesIO(photo), folder, Limits()).study
    for _ in range(ROUNDS):
        start = time.perf_counter()
        plan = plan_sheets(SPEC, study)
        make_pack(folder / "master.zip", SPEC, plan, title="", folder=folder)
        times.append(time.perf_counter() - start)
    return times[1:]
