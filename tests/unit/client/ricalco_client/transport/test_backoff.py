"""Backoff times grow and are bounded; Retry-After is parsed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from ricalco_client.transport.backoff import LONGEST_S, backoff_times, retry_after


def test_waits_grow_and_are_one_fewer_than_the_tries() -> None:
    found = list(backoff_times(4))
    assert len(found) == 3
    assert found == sorted(found)


def test_waits_stay_bounded() -> None:
    assert max(backoff_times(30)) <= LONGEST_S * 1.25


def test_one_try_waits_for_nothing() -> None:
    assert list(backoff_times(1)) == []


@pytest.mark.parametrize(
    ("header", "seconds"),
    [
        # RFC 9110, 10.2.3: both examples, the date read 90 seconds before it.
        ("120", 120.0),
        ("Fri, 31 Dec 1999 23:59:59 GMT", 90.0),
        (" 3 ", 3.0),
        ("soon", None),
        ("-5", None),
        (None, None),
    ],
)
def test_retry_after_is_read_in_both_forms(header: str | None, seconds: float | None) -> None:
    now = datetime(1999, 12, 31, 23, 58, 29, tzinfo=UTC)
    assert retry_after(header, now=now) == seconds


def test_a_date_that_has_passed_asks_for_no_wait() -> None:
    now = datetime(2000, 1, 1, tzinfo=UTC)
    assert retry_after("Fri, 31 Dec 1999 23:59:59 GMT", now=now) == 0
