"""Packs per hour with one worker and with two, and bytes of photos, packs and rows: real ones.

The real service on one machine; every pack differs in style, so that a class is resembled: sheets
of grey, outlines, flat tones. Processor time is that of all processes of the service.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import psutil
import requests

from tests.bench.http import await_ready
from tests.bench.speed import camera_photo
from tests.ports import free_port

PACKS = 24
#: Packs that are made one after the other, for their processor time.
ALONE = 9
#: In turn: the styles that a class asks for (our assumption: a third each).
STYLES = ("grey", "outline", "values")


@dataclass(frozen=True)
class Throughput:
    """What one run showed.

    Attributes:
        workers: How many packs were made side by side.
        took_s: From asking to the last one ready.
        core_s: Processor time of the whole service meanwhile, for one pack, in s.
        alone_core_s: The same of some packs that were made one after the other.
        memory_bytes: Memory of all its processes afterwards (PSS, proc(5)).
        photo_bytes, pack_bytes: Files of one photo, and of each pack.
    """

    workers: int
    took_s: float
    core_s: float
    alone_core_s: list[float]
    memory_bytes: int
    photo_bytes: int
    pack_bytes: list[int]


def measure(workers: int, packs: int = PACKS) -> Throughput:
    """Start a service with so many workers, and have packs made."""
    with tempfile.TemporaryDirectory() as name:
        port = free_port()
        settings = {"RICALCO_DATA_DIR": name, "RICALCO_PORT": str(port)}
        settings |= {"RICALCO_WORKERS": str(workers), "RICALCO_THREADS": "1"}
        settings |= {"RICALCO_MAX_UNFINISHED": "1000"}
        with subprocess.Popen(
            [sys.executable, "-m", "client.command", "serve"],
            env={**os.environ, **settings},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as service:
            try:
                return _measured(
                    f"http://127.0.0.1:{port}", Path(name), service.pid, workers, packs
                )
            finally:
                service.terminate()


def _measured(url: str, folder: Path, pid: int, workers: int, packs: int) -> Throughput:
    await_ready(url)
    sent = requests.post(f"{url}/v1/references", files={"file": camera_photo()}, timeout=60)
    sent.raise_for_status()
    reference = sent.json()["id"]
    # The first one loads what makes packs.
    _await_all(url, [_ask(url, reference, 0) for _ in range(workers)])
    alone = [_alone(url, reference, number, pid) for number in range(ALONE)]
    before, start = _core_s(pid), time.perf_counter()
    ids = [_ask(url, reference, number) for number in range(packs)]
    _await_all(url, ids)
    took_s, core_s = time.perf_counter() - start, _core_s(pid) - before
    sizes = [_bytes(folder / "files" / "packs" / one) for one in ids]
    photo = _bytes(folder / "files" / "references" / reference)
    memory = sum(one.memory_full_info().pss for one in _processes(pid))
    return Throughput(workers, took_s, core_s / packs, alone, memory, photo, sizes)


def _alone(url: str, reference: str, number: int, pid: int) -> float:
    """Processor time of the service for one pack."""
    before = _core_s(pid)
    _await_all(url, [_ask(url, reference, number)])
    return _core_s(pid) - before


def _ask(url: str, reference: str, number: int) -> str:
    spec = {"support": {"width_mm": 600, "height_mm": 400}}
    tone = {"style": STYLES[number % len(STYLES)]}
    body = {"reference_id": reference, "spec": {**spec, "tone": tone}}
    answer = requests.post(f"{url}/v1/packs", json=body, timeout=60)
    answer.raise_for_status()
    return str(answer.json()["id"])


def _await_all(url: str, ids: list[str]) -> None:
    """Wait until all are ready, asking seldom: asking takes time from the making."""
    for one in ids:
        while (
            state := requests.get(f"{url}/v1/packs/{one}", timeout=60).json()["state"]
        ) != "ready":
            if state == "failed":
                message = f"Pack {one} failed."
                raise RuntimeError(message)
            time.sleep(0.2)


def _processes(pid: int) -> list[psutil.Process]:
    """A process and all that it started and still runs."""
    return [psutil.Process(pid), *psutil.Process(pid).children(recursive=True)]


def _core_s(pid: int) -> float:
    """Their processor time, in s."""
    total = 0.0
    for one in _processes(pid):
        with suppress(psutil.NoSuchProcess):
            times = one.cpu_times()
            total += times.user + times.system
    return total


def _bytes(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def report() -> None:
    """Measure one worker and two, one after the other."""
    print("\nPacks an hour, 24-megapixel photo on 60 × 40 cm, a third each of " + ", ".join(STYLES))
    for workers in (1, 2):
        found = measure(workers)
        hourly = 3600 * len(found.pack_bytes) / found.took_s
        print(
            f"  {workers} worker(s): {hourly:.0f} packs an hour, {found.core_s:.2f} core s a pack"
        )
        alone = ", ".join(f"{one:.2f}" for one in found.alone_core_s)
        print(f"    alone, core s: {alone}; memory {found.memory_bytes / 2**20:.0f} MiB")
        sizes = found.pack_bytes
        print(
            f"    a photo {found.photo_bytes / 1e6:.2f} MB; a pack"
            f" {statistics.fmean(sizes) / 1e6:.2f} MB on average, by style"
            f" {', '.join(f'{size / 1e6:.2f}' for size in sizes[: len(STYLES)])}"
        )
