"""Sends mutated files through pools of intake, and holds each outcome to what must be true."""

from __future__ import annotations

import io
import os
import random
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from threading import Lock

import psutil
import pytest

from service.http.answers.problems import WORDS
from tests.fuzz.mutations import mutated
from tests.fuzz.samples import samples
from worker.errors import PhotoError
from worker.reference.decode import Limits
from worker.reference.isolated import Budget, Intake
from worker.reference.isolated import process as intake_process
from worker.reference.isolated.process import PhotoProcess, ProcessEnded

LIMITS = Limits(max_pixels=60_000_000, max_bytes=40_000_000)
BUDGET = Budget.for_pixels(LIMITS.max_pixels, 20)
#: Every so many files, one is read whole, and a sound one must be accepted.
WHOLE_EVERY, SOUND_EVERY = 20, 100
#: How many of the files are to be taken as they are, as far as they can be read.
TAKEN_SHARE = 0.5


@dataclass
class Outcome:
    """What came of all files.

    Attributes:
        by_kind: Accepted, or the code of the refusal, by the sample that was changed.
        ended: How the processes ended that ended while they had a photo.
        longest_s: The longest that one file took.
        most_bytes: The most memory that one process had.
        broken: What did not hold, in words.
    """

    by_kind: Counter[tuple[str, str]] = field(default_factory=Counter)
    ended: Counter[str] = field(default_factory=Counter)
    longest_s: float = 0.0
    most_bytes: int = 0
    broken: list[str] = field(default_factory=list)
    lock: Lock = field(default_factory=Lock, repr=False)


def fuzz(cases: int, seed: int, *, side_by_side: int = 2, keep: Path | None = None) -> Outcome:
    """Send so many files.

    Args:
        cases: How many.
        seed: The same one changes the same bytes.
        side_by_side: How many at once.
        keep: Folder for files with which something did not hold.
    """
    outcome = Outcome()
    with _heard() as said, _pools(outcome) as (whole, unread):

        def one(number: int) -> None:
            chance = random.Random(seed * 1_000_003 + number)  # noqa: S311 - repeatable, no secret.
            kind, other = chance.sample(sorted(samples()), 2)
            data = mutated(chance, samples()[kind], samples()[other])
            before = len(outcome.broken)
            pool = unread if number % WHOLE_EVERY else whole
            _send(pool, kind, data, outcome, accept_damaged=chance.random() < TAKEN_SHARE)
            if keep is not None and len(outcome.broken) > before:
                (keep / f"{seed}-{number}").write_bytes(data)
            if number % SOUND_EVERY == 0:
                _send_sound(unread, outcome)

        with ThreadPoolExecutor(side_by_side) as threads:
            list(threads.map(one, range(cases)))
        _send_sound(whole, outcome)
        _send_sound(unread, outcome)
        text = said()
        if "Traceback" in text:
            outcome.broken.append(text[text.index("Traceback") :][:3000])
    return outcome


def _send(
    intake: Intake, kind: str, data: bytes, outcome: Outcome, *, accept_damaged: bool = False
) -> str:
    """Send one file; how it was taken. What else is raised is noted as broken."""
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        try:
            intake.take_in(io.BytesIO(data), Path(folder), accept_damaged=accept_damaged)
            told = "accepted"
        except PhotoError as error:
            told = error.code
            if not WORDS[error.code]["advice"] or not error.detail:
                outcome.broken.append(f"{kind}: {error.code} says nothing")
        except Exception as error:  # noqa: BLE001 - that nothing else is raised is what is tested.
            told = type(error).__name__
            outcome.broken.append(f"{kind}: {error!r}")
    took_s = time.monotonic() - begun
    with outcome.lock:
        outcome.by_kind[kind, told] += 1
        outcome.longest_s = max(outcome.longest_s, took_s)
        outcome.most_bytes = max([outcome.most_bytes, *map(_memory_of, intake.pids())])
        if took_s > BUDGET.wall_s + intake_process.START_WITHIN_S:
            outcome.broken.append(f"{kind}: took {took_s:.0f} s")
    return told


def _send_sound(intake: Intake, outcome: Outcome) -> None:
    if _send(intake, "sound", samples()["jpeg"], outcome) != "accepted":
        outcome.broken.append("a sound photo was refused after broken ones")


def _memory_of(pid: int) -> int:
    try:
        return int(psutil.Process(pid).memory_info().rss)
    except psutil.NoSuchProcess:
        return 0


class _Kept(Intake):
    """A pool that keeps a process after a refusal, where the service starts another.

    That spares most of the time, and shows whether what broke one file harms the next.
    """

    def _give_back(self, process: PhotoProcess, *, used_up: bool) -> None:  # noqa: ARG002 - Intake's.
        super()._give_back(process, used_up=False)


class _Told(PhotoProcess):
    """A process that is noted when it ends with a photo."""

    outcome: Outcome

    def _ended(self) -> ProcessEnded:
        self.outcome.ended[f"exit code {self._process.returncode}"] += 1
        return super()._ended()


@contextmanager
def _pools(outcome: Outcome) -> Iterator[tuple[Intake, Intake]]:
    """The service's own pool, and one whose processes read nothing in the picture."""

    def start(module: str) -> PhotoProcess:
        with starting, pytest.MonkeyPatch.context() as patch:
            patch.setattr(intake_process, "_MODULE", module)
            return told()

    starting, told = Lock(), type("_ToldHere", (_Told,), {"outcome": outcome})
    own = intake_process._MODULE
    pools = (
        Intake(LIMITS, BUDGET, start=lambda: start(own)),
        _Kept(LIMITS, BUDGET, start=lambda: start("tests.fuzz.unread_child")),
    )
    try:
        yield pools
    finally:
        for pool in pools:
            pool.close()


@contextmanager
def _heard() -> Iterator[object]:
    """What processes that are started meanwhile write to standard error."""
    with tempfile.TemporaryFile() as file:
        kept = os.dup(2)
        os.dup2(file.fileno(), 2)

        def said() -> str:
            file.seek(0)
            return file.read().decode(errors="replace")

        try:
            yield said
        finally:
            os.dup2(kept, 2)
            os.close(kept)
