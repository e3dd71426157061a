"""The log tells what happened, and neither whose it was nor where it is found."""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator

import pytest

from service.http.logs.program_log import log_to_stderr


@pytest.fixture(autouse=True)
def as_it_was() -> Iterator[None]:
    """What is set for the whole process is set back."""
    root, server = logging.getLogger(), logging.getLogger("waitress")
    handlers, level, filters = root.handlers[:], root.level, server.filters[:]
    yield
    root.handlers[:], server.filters[:] = handlers, filters
    root.setLevel(level)


def test_an_answer_that_breaks_off_is_told_without_its_address(
    capsys: pytest.CaptureFixture[str],
) -> None:
    log_to_stderr("INFO")
    server, fault = logging.getLogger("waitress"), OSError("The disk is gone.")
    # As waitress.channel writes it.
    server.error("Exception while serving /v1/packs/pck_secret/pack.pdf", exc_info=fault)
    server.warning("3 thread(s) still running")
    broken, other = (json.loads(line) for line in capsys.readouterr().err.splitlines())
    assert "The disk is gone." in broken["trace"]
    assert "pck_secret" not in json.dumps(broken)
    assert other["event"] == "3 thread(s) still running"
