"""One program of the arrangement, here a small one of Python."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from deploy.arrangement.parts import Part, PartFailed

PROGRAM = """
import os, signal, sys
print("I am", os.environ.get("RICALCO_NAME"), os.environ.get("RICALCO_OTHER"), flush=True)
signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
signal.pause()
"""


@pytest.fixture
def part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Part]:
    monkeypatch.setenv("RICALCO_OTHER", "somebody's")
    made = Part(
        name="small",
        command=[sys.executable, "-c", PROGRAM],
        log=tmp_path / "small.log",
        ready=lambda: "I am" in made.written(),
        environment={"RICALCO_NAME": "small"},
    )
    yield made
    made.send(signal.SIGKILL)
    made.wait_stopped()


def test_it_gets_its_own_settings_and_nobody_elses(part: Part) -> None:
    part.start()
    part.wait_ready()
    assert part.written() == "I am small None\n"


def test_it_stops_when_asked_to(part: Part) -> None:
    part.start()
    part.wait_ready()
    part.ask_to_stop()
    part.wait_stopped()
    assert part.process is not None
    assert (part.process.returncode, part.alive, part.pid) == (0, False, None)


def test_what_does_not_stop_is_killed(part: Part) -> None:
    part.start()
    part.wait_ready()
    part.patience_s = 0.1
    part.send(signal.SIGSTOP)
    part.ask_to_stop()
    part.wait_stopped()
    assert part.process is not None
    assert part.process.returncode == -signal.SIGKILL


def test_started_again_it_is_not_ready_by_what_it_said_before(part: Part) -> None:
    part.start()
    part.wait_ready()
    part.send(signal.SIGKILL)
    part.wait_stopped()
    part.command = [sys.executable, "-c", "import signal; signal.pause()"]
    part.start()
    assert not part.is_ready()


def test_one_that_ends_is_told_with_its_last_words(part: Part) -> None:
    part.command = [sys.executable, "-c", "raise SystemExit('no port')"]
    part.start()
    with pytest.raises(PartFailed, match="small does not start:\nno port"):
        part.wait_ready()
