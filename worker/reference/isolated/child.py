"""The process that takes photos in, one after the other, until its standard input ends.

Started as `python -m worker.reference.isolated.child`. Standard input brings questions and
photos; its end, which also comes when whoever started this process dies, ends the process.
Answers go to what was standard output; whatever a library prints goes to standard error.
"""

from __future__ import annotations

import io
import os
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from worker.errors import PhotoError, ReferenceTooComplex
from worker.reference.isolated.budget import Budget
from worker.reference.isolated.confinement import confine, set_limits
from worker.reference.isolated.wire import PeerGone, read_exactly, receive_message, send_message

if TYPE_CHECKING:
    from worker.reference.decode import Limits

#: How often the process looks whether it is still needed while it is at work.
_LOOK_S = 0.5


def main() -> None:
    """Answer until the input ends."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    confine()
    # Loaded now, and not with the first photo: that is what a warm child is for.
    from worker.reference import intake  # noqa: PLC0415

    _end_with_parent()
    send_message(answers, {"ready": intake.__name__})
    questions = sys.stdin.buffer
    try:
        while True:
            question = receive_message(questions)
            send_message(answers, _answer(question, questions))
    except (PeerGone, OSError):
        return


def _end_with_parent() -> None:
    """End even while a photo is being read, when nobody waits for it any more."""
    parent = os.getppid()

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_LOOK_S)
        os._exit(0)

    threading.Thread(target=watch, name="parent-watch", daemon=True).start()


def _answer(question: dict[str, Any], questions: BinaryIO) -> dict[str, Any]:
    from worker.reference.decode import Limits  # noqa: PLC0415

    set_limits(Budget(**question["budget"]))
    data = read_exactly(questions, question["bytes"])
    try:
        return _taken(data, question, Limits(**question["limits"]))
    except PhotoError as error:
        return {"refused": error.code, **vars(error)}
    except OSError as error:
        return {"errno": error.errno, "detail": error.strerror}
    except MemoryError:
        detail = "The photo needs more memory than any photo should. Save a smaller copy."
        return {"refused": ReferenceTooComplex.code, "detail": detail, "field": "file"}


def _taken(data: bytes, question: dict[str, Any], limits: Limits) -> dict[str, Any]:
    from worker.reference.intake import take_in  # noqa: PLC0415

    taken = take_in(
        io.BytesIO(data),
        Path(question["folder"]),
        limits,
        threads=question["threads"],
        accept_damaged=question["accept_damaged"],
    )
    return {
        "width_px": taken.width_px,
        "height_px": taken.height_px,
        "format": taken.format,
        "sha256": taken.sha256,
    }


if __name__ == "__main__":
    main()
