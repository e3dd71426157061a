"""What a class is shown is an address that its devices can open."""

from __future__ import annotations

import pytest

from service.http.requests import lan_addresses


@pytest.mark.parametrize(
    ("host", "listens_on", "wanted"),
    [
        ("192.168.1.7:8640", "0.0.0.0", "http://192.168.1.7:8640"),  # noqa: S104
        ("localhost:8640", "0.0.0.0", "http://192.0.2.7:8640"),  # noqa: S104
        ("127.0.0.1:8640", "0.0.0.0", "http://192.0.2.7:8640"),  # noqa: S104
        ("[::1]:8640", "::", "http://192.0.2.7:8640"),
        # Where nobody else reaches it there is nothing better to show.
        ("localhost:8640", "127.0.0.1", "http://localhost:8640"),
    ],
)
def test_the_address_to_show(
    monkeypatch: pytest.MonkeyPatch, host: str, listens_on: str, wanted: str
) -> None:
    monkeypatch.setattr(lan_addresses, "lan_address", lambda: "192.0.2.7")
    assert lan_addresses.base_url("http", host, listens_on, 8640) == wanted


def test_the_code_stays_in_the_browser() -> None:
    url = lan_addresses.join_url("http://192.0.2.7:8640", "T2BA-NPGB")
    assert url == "http://192.0.2.7:8640/#join=T2BA-NPGB"
