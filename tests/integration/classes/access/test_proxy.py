"""Behind a proxy that ends TLS: what it tells is believed, and only from where it asks.

RFC 6265, 5.4: a cookie that is marked Secure is sent over secure connections only. The
headers are the de-facto ones that nginx, Caddy and Traefik set (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import requests

from tests.integration.service.conftest import Running, start
from worker.store.ledger import Ledger

OUTSIDE = "studio.example"
#: The tutor's key by data folder.
KEYS: dict[str, str] = {}
FORWARDED = {
    "X-Forwarded-Proto": "https",
    "X-Forwarded-Host": OUTSIDE,
    "X-Forwarded-For": "10.9.8.7",
}


@pytest.fixture(scope="module", params=["127.0.0.1", "192.0.2.1", ""])
def behind(request: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Running, str]]:
    """A service, and the address that it trusts: ours, another one (RFC 5737), none."""
    folder: Path = tmp_path_factory.mktemp("proxy")
    # It does not start there without a tutor.
    with closing(Ledger.open(f"sqlite:///{(folder / 'data' / 'ledger.db').as_posix()}")) as ledger:
        ledger.migrate()
        KEYS[str(folder / "data")] = ledger.people.add_tutor("Ada")[1].key
    service = start(folder, ALLOWED_HOSTS=OUTSIDE, TRUSTED_PROXY=request.param, WORKERS=1)
    yield service, request.param
    assert service.stop() == 0


def test_the_cookie_is_secure_behind_the_proxy_that_is_trusted(behind: Any) -> None:
    service, trusted = behind
    held = KEYS[str(service.data_dir)]
    first = requests.post(
        f"{service.url}/v1/sign-in", json={"key": held}, headers=FORWARDED, timeout=30
    )
    assert first.status_code == 200, first.text
    believed = trusted == "127.0.0.1"
    assert ("Secure" in first.headers["Set-Cookie"].split("; ")) is believed
    key = {"Authorization": f"Bearer {held}"}
    made = requests.post(
        f"{service.url}/v1/classes", json={"name": "7b"}, headers=FORWARDED | key, timeout=30
    )
    shown = f"https://{OUTSIDE}/" if believed else service.url
    assert made.json()["join_url"].startswith(shown)


def test_over_tls_the_cookie_is_this_hosts_own_and_stays_with_tls(behind: Any) -> None:
    """RFC 6265bis, 4.1.3.2: `__Host-` is Secure, of the path /, and of no domain; RFC 6797."""
    service, trusted = behind
    body = {"key": KEYS[str(service.data_dir)]}
    answer = requests.post(f"{service.url}/v1/sign-in", json=body, headers=FORWARDED, timeout=30)
    name, _, rest = answer.headers["Set-Cookie"].partition("=")
    value, *attributes = rest.split("; ")
    if trusted != "127.0.0.1":
        assert name == "ricalco_key"
        assert "Strict-Transport-Security" not in answer.headers
        return
    assert name == "__Host-ricalco_key"
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Strict"} <= set(attributes)
    assert not any(one.lower().startswith("domain") for one in attributes)
    assert int(answer.headers["Strict-Transport-Security"].partition("max-age=")[2]) >= 31_536_000
    for called, wanted in ((name, 200), ("ricalco_key", 401)):
        cookie = FORWARDED | {"Cookie": f"{called}={value}"}
        assert (
            requests.get(f"{service.url}/v1/me", headers=cookie, timeout=30).status_code == wanted
        )


def test_one_who_guesses_codes_stops_nobody_else_behind_the_proxy(behind: Any) -> None:
    service, _ = behind
    guesser = requests.Session()
    for number in range(8):
        last = guesser.get(
            f"{service.url}/v1/join", params={"code": f"0000-000{number}"}, timeout=30
        )
    assert last.status_code == 429
    other = requests.get(f"{service.url}/v1/join", params={"code": "0000-0009"}, timeout=30)
    assert other.status_code == 404


def test_a_name_that_is_not_allowed_stays_refused(behind: Any) -> None:
    service, trusted = behind
    told = FORWARDED | {"X-Forwarded-Host": "rebound.example"}
    status = requests.get(f"{service.url}/healthz", headers=told, timeout=30).status_code
    assert status == (421 if trusted == "127.0.0.1" else 200)


def test_the_request_has_the_id_that_the_trusted_proxy_gave_it(behind: Any) -> None:
    service, trusted = behind
    given = FORWARDED | {"X-Request-ID": "a1b2c3d4e5f6"}
    answer = requests.get(f"{service.url}/v1/nothing", headers=given, timeout=30)
    believed = trusted == "127.0.0.1"
    assert (answer.headers["X-Request-Id"] == "a1b2c3d4e5f6") is believed
    assert ('"request_id": "a1b2c3d4e5f6"' in service.log.read_text()) is believed
