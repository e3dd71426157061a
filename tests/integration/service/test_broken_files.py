"""Sound files with some bytes changed, of every kind that is read here, through the real intake."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzz.run import fuzz

pytestmark = pytest.mark.slow


def test_a_hundred_broken_files_are_taken_or_refused_and_the_intake_goes_on(tmp_path: Path) -> None:
    """Thousands are sent by hand: `python -m tests.fuzz`."""
    outcome = fuzz(100, seed=14, keep=tmp_path)
    assert outcome.broken == []
    told = {told for _, told in outcome.by_kind}
    # Both ways are gone, so that neither is passed by chance.
    assert {"accepted", "reference-damaged"} <= told
    assert not outcome.ended
