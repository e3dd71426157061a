"""Wrong codes are counted by where they came from, and forgiven after a minute."""

from __future__ import annotations

import pytest

from service.errors import TooManyTries
from service.tries import MOST, WITHIN_S, Tries


def test_a_place_that_guesses_too_often_has_to_wait() -> None:
    now = [0.0]
    tries = Tries(lambda: now[0])
    for _ in range(MOST):
        tries.check("here")
        tries.count("here")
    with pytest.raises(TooManyTries) as caught:
        tries.check("here")
    assert caught.value.retry_after_s == WITHIN_S
    tries.check("there")
    now[0] += WITHIN_S
    tries.check("here")
