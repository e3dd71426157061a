"""Packs per hour with one, two and four workers, what web and ledger cost beside the making, bytes.

The real service on one machine; every pack differs in style, so that a class is resembled: sheets
of grey, outlines, flat tones. What counts is processor time of all processes of the service, web,
worker and what starts both, from asking for the first pack to the last one ready; their start and
what they do afterwards do not, nor does this program. Packs are followed as the page follows them,
by their events. What of it is the making, the worker itself notes (`counted_worker`).
"""

from __future__ import annotations

import io
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import psutil
import requests

from tests.bench.http import await_ready
from tests.bench.sizing.counted_worker import NOTES
from tests.bench.speed import camera_photo
from tests.servers.ports import free_port
from worker.layout.planning import plan_sheets
from worker.make.pack import make_pack
from worker.reference.decode import Limits
from worker.reference.intake import take_in
from worker.spec.json import load_spec

PACKS = 24
#: Packs that are made one after the other, for their processor time.
ALONE = 9
#: In turn: the styles that a class asks for (our assumption: a third each).
STYLES = ("grey", "outline", "values")
SUPPORT = {"width_mm": 600, "height_mm": 400}
_NOTES = "making.txt"
#: Makings of which the median is taken.
ROUNDS = 4


@dataclass(frozen=True)
class Throughput:
    """What one run showed.

    Attributes:
        workers: How many packs were made side by side.
        took_s: From asking to the last one ready.
        core_s: Processor time meanwhile, for one pack, in s, by program: web, worker, and what
            starts both.
        making_core_s: The making of it, for each pack.
        alone_core_s: The same of some packs that were made one after the other.
        memory_bytes: Memory of all its processes afterwards (PSS, proc(5)).
        photo_bytes, pack_bytes: Files of one photo, and of each pack.
    """

    workers: int
    took_s: float
    core_s: dict[str, float]
    making_core_s: list[float]
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
        settings |= {"RICALCO_MAX_UNFINISHED": "1000", NOTES: str(Path(name) / _NOTES)}
        with subprocess.Popen(
            [sys.executable, "-m", "tests.bench.sizing.counted_service"],
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
    took_s, core_s = time.perf_counter() - start, _core_s(pid)
    core_s.subtract(before)
    # Those before were for what is loaded, and one after the other.
    making = [float(line) for line in (folder / _NOTES).read_text().split()][-packs:]
    sizes = [_bytes(folder / "files" / "packs" / one) for one in ids]
    photo = _bytes(folder / "files" / "references" / reference)
    memory = sum(one.memory_full_info().pss for one in _processes(pid))
    each_s = {name: spent / packs for name, spent in core_s.items()}
    return Throughput(workers, took_s, each_s, making, alone, memory, photo, sizes)


def _alone(url: str, reference: str, number: int, pid: int) -> float:
    """Processor time of the service for one pack."""
    before = _core_s(pid).total()
    _await_all(url, [_ask(url, reference, number)])
    return _core_s(pid).total() - before


def _ask(url: str, reference: str, number: int) -> str:
    tone = {"style": STYLES[number % len(STYLES)]}
    body = {"reference_id": reference, "spec": {"support": SUPPORT, "tone": tone}}
    answer = requests.post(f"{url}/v1/packs", json=body, timeout=60)
    answer.raise_for_status()
    return str(answer.json()["id"])


def _await_all(url: str, ids: list[str]) -> None:
    """Wait until all are ready; one after the other is followed, as the page follows it.

    Asking for a state again and again takes time from the making.
    """
    for one in ids:
        while (state := _followed(url, one)) != "ready":
            if state == "failed":
                message = f"Pack {one} failed."
                raise RuntimeError(message)


def _followed(url: str, pack_id: str) -> str:
    """The state in the last event of a stream, which ends after a minute."""
    state = ""
    with requests.get(f"{url}/v1/packs/{pack_id}/events", stream=True, timeout=60) as events:
        events.raise_for_status()
        for line in events.iter_lines():
            if line.startswith(b"data: "):
                state = json.loads(line[6:]).get("state", state)
                if state in {"ready", "failed"}:
                    return state
    return state


def _processes(pid: int) -> list[psutil.Process]:
    """A process and all that it started and still runs."""
    return [psutil.Process(pid), *psutil.Process(pid).children(recursive=True)]


def _core_s(pid: int) -> Counter[str]:
    """Their processor time, in s, by program; what one started counts as its own."""
    first = psutil.Process(pid)
    spent = Counter({"start": _spent(first)})
    for child in first.children():
        with suppress(psutil.NoSuchProcess):
            name = "web" if "service.web" in child.cmdline() else "worker"
            spent[name] += sum(map(_spent, (child, *child.children(recursive=True))))
    return spent


def _spent(process: psutil.Process) -> float:
    try:
        times = process.cpu_times()
    except psutil.NoSuchProcess:
        return 0.0
    # And that of children that have ended.
    return float(times.user + times.system + times.children_user + times.children_system)


def making_core_s(photo: bytes) -> list[float]:
    """Processor time, in s, of making alone, on one thread: median for each style."""
    found = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        study = take_in(io.BytesIO(photo), folder, Limits(), threads=1).study
        for style in STYLES:
            spec = load_spec({"support": SUPPORT, "tone": {"style": style}})
            plan = plan_sheets(spec, study)
            spent = []
            for _ in range(ROUNDS):
                before = time.process_time()
                make_pack(folder / "master.zip", spec, plan, title="", folder=folder, threads=1)
                spent.append(time.process_time() - before)
            # The first one loads what makes packs.
            found.append(statistics.median(spent[1:]))
    return found


def _bytes(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def report() -> None:
    """Measure one worker, two and four, one after the other."""
    print("\nPacks an hour, 24-megapixel photo on 60 × 40 cm, a third each of " + ", ".join(STYLES))
    making = making_core_s(camera_photo())
    print(f"  making alone, core s: {', '.join(f'{one:.2f}' for one in making)}")
    for workers in (1, 2, 4):
        found = measure(workers)
        hourly, whole = 3600 * len(found.pack_bytes) / found.took_s, sum(found.core_s.values())
        made = statistics.fmean(found.making_core_s)
        parts = ", ".join(f"{name} {spent:.3f}" for name, spent in sorted(found.core_s.items()))
        print(
            f"  {workers} worker(s): {hourly:.0f} packs an hour, {whole:.2f} core s a pack"
            f" ({parts}); of that making {made:.3f}, {made / whole:.1%}"
            f" (what it takes alone: {statistics.fmean(making) / whole:.1%})"
        )
        alone = ", ".join(f"{one:.2f}" for one in found.alone_core_s)
        print(f"    alone, core s: {alone}; memory {found.memory_bytes / 2**20:.0f} MiB")
        sizes = found.pack_bytes
        print(
            f"    a photo {found.photo_bytes / 1e6:.2f} MB; a pack"
            f" {statistics.fmean(sizes) / 1e6:.2f} MB on average, by style"
            f" {', '.join(f'{size / 1e6:.2f}' for size in sizes[: len(STYLES)])}"
        )
