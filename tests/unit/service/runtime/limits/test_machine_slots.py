"""Cores and memory are shared by all web processes of a machine, also when one is killed."""

from __future__ import annotations

import signal
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from service.http.errors import Busy
from service.runtime.limits.concurrency import ConcurrencyLimit
from service.runtime.limits.machine_slots import MachineSlots


def limit(folder: Path, wait_s: float = 0.0) -> ConcurrencyLimit:
    """As a web process has it."""
    shared = MachineSlots(folder, "intake", 2)
    return ConcurrencyLimit(2, wait_s=wait_s, detail="Full.", shared=shared)


def test_two_processes_have_no_more_than_one(tmp_path: Path) -> None:
    one, other = limit(tmp_path), limit(tmp_path)
    with one.slot(), other.slot():
        for full in (one, other, one):
            with pytest.raises(Busy):
                full.acquire()
    with other.slot(), other.slot(), pytest.raises(Busy):
        one.acquire()
    with one.slot(), one.slot():
        pass


def test_one_waits_for_a_slot_of_another_process(tmp_path: Path) -> None:
    one, other = limit(tmp_path), limit(tmp_path, wait_s=1e6)
    with ThreadPoolExecutor(1) as pool:
        with one.slot(), one.slot():
            waits = pool.submit(other.acquire)
            assert not waits.done()
        waits.result()
    other.release()


def test_a_killed_process_holds_none(tmp_path: Path) -> None:
    script = (
        "import sys, time, pathlib\n"
        "from service.runtime.limits.machine_slots import MachineSlots\n"
        "slots = MachineSlots(pathlib.Path(sys.argv[1]), 'intake', 2)\n"
        "print(slots.take(), slots.take(), flush=True)\n"
        "time.sleep(600)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "True True\n"
        slots = MachineSlots(tmp_path, "intake", 2)
        assert not slots.take()
        process.send_signal(signal.SIGKILL)
        process.wait(60)
    assert slots.take()
    slots.release()
