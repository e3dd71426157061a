"""Foreign pages cannot drive a loopback service; its own can."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from flask import Flask

from service.http.answers import problems
from service.http.requests.host_guard import (
    guard,
    host_name,
    is_loopback,
    require_tutor,
    same_origin,
)
from worker.errors import SettingInvalid
from worker.settings import Settings


@pytest.fixture
def app() -> Flask:
    """A guarded application that answers everything."""
    app = Flask("test", static_folder=None)
    guard(app, Settings(data_dir=Path("unused"), allowed_hosts=("studio.example",)))
    problems.register(app)
    app.add_url_rule("/", view_func=lambda: "yes", methods=["GET", "POST"])
    return app


@pytest.mark.parametrize(
    "host",
    ["localhost", "localhost:8640", "127.0.0.1:8640", "[::1]:8640", "[::1]", "studio.example"],
)
def test_own_names_are_answered(app: Flask, host: str) -> None:
    assert app.test_client().get("/", headers={"Host": host}).text == "yes"


@pytest.mark.parametrize("address", ["127.0.0.2", "[::ffff:127.0.0.1]", "LocalHost"])
def test_the_address_that_it_listens_on_is_a_name_of_its_own(address: str) -> None:
    """Whoever may listen on all of 127.0.0.0/8 is also to be reached there."""
    app = Flask("test", static_folder=None)
    guard(app, Settings(data_dir=Path("unused"), host=address))
    app.add_url_rule("/", view_func=lambda: "yes")
    assert app.test_client().get("/", headers={"Host": f"{address}:8640"}).text == "yes"


@pytest.mark.parametrize(
    "host",
    [
        "rebound.example",
        "rebound.example:8640",
        "127.0.0.1.rebound.example",
        "localhost.",
        "user@localhost",
        "localhost/path",
        "localhost:99999",
        "[::1",
        "10.0.0.1",
        "",
    ],
)
def test_other_names_are_not(app: Flask, host: str) -> None:
    answer = app.test_client().get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert answer.json is not None
    assert answer.json["code"] == "host-refused"


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://rebound.example"},
        {"Origin": "http://localhost:3000"},
        {"Origin": "http://localhost"},
        {"Origin": "ftp://localhost:8640"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_pages_of_other_origins_are_refused(app: Flask, headers: dict[str, str]) -> None:
    answer = app.test_client().post("/", headers={"Host": "localhost:8640"} | headers)
    assert answer.status_code == 403
    assert answer.json is not None
    assert answer.json["code"] == "origin-refused"


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://localhost:8640"},
        {"Origin": "http://localhost:8640", "Sec-Fetch-Site": "same-origin"},
        {"Sec-Fetch-Site": "none"},
    ],
)
def test_programs_and_own_pages_are_answered(app: Flask, headers: dict[str, str]) -> None:
    assert app.test_client().post("/", headers={"Host": "localhost:8640"} | headers).text == "yes"


def test_a_page_without_an_origin_may_look_but_not_act(app: Flask) -> None:
    headers = {"Host": "localhost:8640", "Origin": "null"}
    assert app.test_client().get("/", headers=headers).text == "yes"
    assert app.test_client().post("/", headers=headers).status_code == 403


def test_a_link_from_elsewhere_may_be_followed_but_sends_nothing(app: Flask) -> None:
    """Fetch Metadata: a person's own navigation, as from a course's page to this one."""
    link = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
    headers = {"Host": "localhost:8640", **link, "Sec-Fetch-Dest": "document"}
    assert app.test_client().get("/", headers=headers).text == "yes"
    assert app.test_client().post("/", headers=headers).status_code == 403
    framed = {**headers, "Sec-Fetch-Dest": "iframe"}
    assert app.test_client().get("/", headers=framed).status_code == 403


def test_standard_ports_may_be_left_out() -> None:
    assert same_origin("http://localhost", "localhost:80")
    assert same_origin("https://studio.example:443", "studio.example")
    assert not same_origin("https://studio.example", "studio.example:8640")


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.2", "::1", "[::1]", "localhost"])
def test_loopback_is_served(host: str) -> None:
    assert is_loopback(host)
    require_tutor(Settings(data_dir=Path("unused"), host=host))


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.2", "studio.example", ""])  # noqa: S104
def test_other_addresses_need_tutors_that_there_are_none_of(host: str) -> None:
    with pytest.raises(SettingInvalid, match="tutor") as caught:
        require_tutor(Settings(data_dir=Path("unused"), host=host))
    assert caught.value.field == "RICALCO_HOST"


@pytest.mark.parametrize(
    ("settings", "field"),
    [
        ({"trusted_proxy": "127.0.0.1"}, "RICALCO_TRUSTED_PROXY"),
        ({"trusted_proxy": "::1", "host": "::1"}, "RICALCO_TRUSTED_PROXY"),
        ({"allowed_hosts": ("localhost", "studio.example")}, "RICALCO_ALLOWED_HOSTS"),
        ({"allowed_hosts": ("localhost.studio.example",)}, "RICALCO_ALLOWED_HOSTS"),
        ({"allowed_hosts": ("192.168.1.2",)}, "RICALCO_ALLOWED_HOSTS"),
    ],
)
def test_behind_a_proxy_or_under_another_name_it_needs_tutors_too(
    settings: dict[str, Any], field: str
) -> None:
    with pytest.raises(SettingInvalid, match="tutor") as caught:
        require_tutor(Settings(data_dir=Path("unused"), **settings))
    assert caught.value.field == field


@pytest.mark.parametrize("names", [(), ("localhost",), ("127.0.0.2", "[::1]")])
def test_other_names_of_this_machine_open_it_to_nobody(names: tuple[str, ...]) -> None:
    require_tutor(Settings(data_dir=Path("unused"), allowed_hosts=names))


def test_a_host_with_credentials_has_no_name() -> None:
    assert host_name("a:b@localhost") is None
    assert host_name("LOCALHOST:80") == "localhost"
