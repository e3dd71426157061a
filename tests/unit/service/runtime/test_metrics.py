"""The metrics page is in the Prometheus text format, version 0.0.4."""

from __future__ import annotations

from service.runtime.metrics import Counters, family


def test_a_family_in_text() -> None:
    samples = [((("state", 'a"b\\c\nd'),), 3.0), ((("state", "ready"),), 0.5)]
    assert family("ricalco_packs", "gauge", "Packs.", samples) == (
        "# HELP ricalco_packs Packs.\n"
        "# TYPE ricalco_packs gauge\n"
        'ricalco_packs{state="a\\"b\\\\c\\nd"} 3\n'
        'ricalco_packs{state="ready"} 0.5\n'
    )


def test_a_counter_goes_on_beyond_a_million() -> None:
    text = family("ricalco_requests_total", "counter", "Requests.", [((), 12_345_678.0)])
    assert text.endswith("ricalco_requests_total 12345678\n")


def test_requests_are_counted_and_timed() -> None:
    counters = Counters()
    for status in (200, 200, 404):
        counters.add(method="GET", route="/x", status=status, seconds=0.25)
    place = (("method", "GET"), ("route", "/x"))
    assert counters.requests() == [
        ((*place, ("status", "200")), 2.0),
        ((*place, ("status", "404")), 1.0),
    ]
    assert counters.seconds() == [(place, 0.75)]
