"""A pool of child processes for intake, of which a few are kept warm."""

from __future__ import annotations

import os
import threading
import weakref
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

from worker import errors
from worker.errors import ReferenceDamaged, ReferenceEmpty, ReferenceTooComplex, ReferenceTooSlow
from worker.reference.decode import Limits, too_large
from worker.reference.intake import IntakeResult
from worker.reference.isolated.budget import Budget
from worker.reference.isolated.process import PhotoProcess, ProcessEnded
from worker.reference.study_file import load_study

#: A process is replaced after so many photos: what they left in it goes with it.
MOST_PHOTOS = 50
#: Processes that are kept when there is nothing to do: the next photo comes alone.
KEPT_WARM = 1
#: A photo of more pixels leaves a process too large to be kept.
LARGE_PIXELS = 30_000_000
#: How often a photo is tried: once more, where its process was ended from outside.
_TRIES = 2

_FRESH_COPY = "Open it on your device, save a fresh copy as JPEG and send that."
_REFUSALS: dict[str, type[errors.PhotoError]] = {
    kind.code: kind for kind in errors.PhotoError.__subclasses__()
}


class Intake:
    """Takes photos in, each in a child process; safe in threads.

    The caller limits how many run at once.
    """

    def __init__(
        self,
        limits: Limits,
        budget: Budget,
        *,
        threads: int = 2,
        start: Callable[[], PhotoProcess] = PhotoProcess,
    ) -> None:
        self._limits, self._budget, self._threads = limits, budget, threads
        self._start = start
        self._lock = threading.Lock()
        self._idle: list[PhotoProcess] = []
        self._at_work: set[PhotoProcess] = set()
        self._closed = False
        weakref.finalize(self, _end_all, self._idle, self._at_work)

    def warm(self) -> None:
        """Have a process ready for the first photo; it loads beside what goes on here."""
        with self._lock:
            if not self._idle and not self._closed:
                self._idle.append(self._start())

    def close(self) -> None:
        """End all processes; photos under way are not taken in."""
        with self._lock:
            self._closed = True
            _end_all(self._idle, self._at_work)

    def pids(self) -> list[int]:
        """Process numbers of all that run."""
        with self._lock:
            return [one.pid for one in (*self._idle, *self._at_work)]

    def take_in(
        self, source: BinaryIO, folder: Path, *, accept_damaged: bool = False
    ) -> IntakeResult:
        """Run `worker.reference.intake.take_in` in a child: the same files, the same result.

        Args:
            source: A file that can be read from any place; it is read from its beginning.
            folder: Exists and is empty, and is the caller's to remove if this fails.
            accept_damaged: Take what could be read of a damaged photo as it is.

        Raises:
            PhotoError: One of its kinds; the photo cannot be used.
            OSError: The folder cannot be written.
        """
        question = {
            "bytes": _length(source, self._limits),
            "folder": str(folder.absolute()),
            "limits": vars(self._limits),
            "budget": self._budget.document(),
            "threads": self._threads,
            "accept_damaged": accept_damaged,
        }
        answer = self._answer(question, source, folder)
        _raise_refusal(answer)
        return IntakeResult(**answer, study=load_study(folder / "study.npz"))

    def _answer(self, question: dict[str, Any], source: BinaryIO, folder: Path) -> dict[str, Any]:
        for _ in range(_TRIES):
            source.seek(0)
            process = self._lent()
            try:
                answer = process.ask(question, source, self._budget.wall_s)
            except ProcessEnded as ended:
                self._drop(process)
                if ended.slow:
                    raise _too_slow() from ended
                if ended.crashed:
                    raise _unreadable() from ended
                for left in folder.iterdir():
                    left.unlink()
            except BaseException:
                self._drop(process)
                raise
            else:
                self._give_back(process, used_up=_uses_up(answer))
                return answer
        raise _given_up()

    def _lent(self) -> PhotoProcess:
        with self._lock:
            while self._idle:
                process = self._idle.pop()
                if process.alive:
                    break
                process.end()
            else:
                process = self._start()
            self._at_work.add(process)
        return process

    def _give_back(self, process: PhotoProcess, *, used_up: bool) -> None:
        """Keep it warm, if it is good for another photo."""
        with self._lock:
            self._at_work.discard(process)
            keep = not used_up and process.photos < MOST_PHOTOS and not self._closed
            if keep:
                self._idle.append(process)
            else:
                process.end()
                if not self._idle and not self._closed:
                    self._idle.append(self._start())
            # As many again may come at once while others are at work, and hardly after that.
            while len(self._idle) > KEPT_WARM + len(self._at_work):
                self._idle.pop(0).end()

    def _drop(self, process: PhotoProcess) -> None:
        with self._lock:
            self._at_work.discard(process)
        process.end()


def _uses_up(answer: dict[str, Any]) -> bool:
    """Whether the process is better not kept: it may have been harmed, or holds much memory.

    The C library keeps what a large photo took: of a gigabyte a third.
    """
    return "width_px" not in answer or answer["width_px"] * answer["height_px"] > LARGE_PIXELS


def _end_all(*groups: list[PhotoProcess] | set[PhotoProcess]) -> None:
    for group in groups:
        for process in list(group):
            process.end()
        group.clear()


def _length(source: BinaryIO, limits: Limits) -> int:
    length = source.seek(0, os.SEEK_END)
    if not length:
        raise ReferenceEmpty("The file is empty. Choose the photo again.", field="file")
    if length > limits.max_bytes:
        raise too_large(limits)
    return length


def _raise_refusal(answer: dict[str, Any]) -> None:
    """Raise what the other process raised.

    Raises:
        PhotoError: It refused the photo.
        OSError: It could not write.
    """
    if "errno" in answer:
        raise OSError(answer["errno"], answer["detail"])
    if "refused" not in answer:
        return
    kind = _REFUSALS.get(answer["refused"], ReferenceTooComplex)
    if kind is ReferenceDamaged:
        raise ReferenceDamaged(
            answer["detail"], readable_share=answer["readable_share"], field=answer["field"]
        )
    raise kind(answer["detail"], field=answer["field"])


def _too_slow() -> ReferenceTooSlow:
    return ReferenceTooSlow(
        f"Reading the photo took longer than any photo should, and was stopped. {_FRESH_COPY}",
        field="file",
    )


def _unreadable() -> ReferenceDamaged:
    return ReferenceDamaged(
        f"The photo is damaged, and nothing of it can be read. {_FRESH_COPY}", field="file"
    )


def _given_up() -> ReferenceTooComplex:
    return ReferenceTooComplex(
        "Reading the photo was broken off twice, which also happens where memory is short. "
        f"Send it again. If that does not help: {_FRESH_COPY}",
        field="file",
    )
