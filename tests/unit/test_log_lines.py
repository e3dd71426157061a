"""Every line says for which request it was written, a library's and another thread's too."""

from __future__ import annotations

import json
import logging
import threading
from collections.abc import Iterator

import pytest

from worker.log_lines import log_facts, log_to_stderr


@pytest.fixture(autouse=True)
def as_it_was() -> Iterator[None]:
    """What is set for the whole process is set back."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:] = handlers
    root.setLevel(level)


def test_lines_have_the_facts_of_what_is_done(capsys: pytest.CaptureFixture[str]) -> None:
    log_to_stderr("INFO")
    log = logging.getLogger("any.library")
    with log_facts(request_id="req-00000001", pack=None):
        log.info("begun", extra={"facts": {"step": 1}})
        other = threading.Thread(target=lambda: log.info("elsewhere"))
        other.start()
        other.join()
    log.info("over")
    begun, elsewhere, over = map(json.loads, capsys.readouterr().err.splitlines())
    assert (begun["event"], begun["request_id"], begun["step"]) == ("begun", "req-00000001", 1)
    assert "pack" not in begun
    assert "request_id" not in elsewhere
    assert "request_id" not in over
