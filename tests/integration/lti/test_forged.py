"""Launches that are forged, replayed or misdirected: none gets in.

The checks are those of Security Framework 1.0, 5.1.3 (authentication response validation), and of
LTI 1.3 Core, 5.3; attacks on signatures are those of RFC 8725, 2.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from typing import Any

import pytest
from joserfc import jwt
from joserfc.errors import SecurityWarning
from joserfc.jwk import RSAKey
from werkzeug.test import TestResponse

from tests.integration.lti.conftest import HOME, TARGET, World, data_of, register
from tests.servers.learning_platform import (
    CLAIM,
    COURSE,
    new_curve_key,
    new_key,
    serving,
    short_key,
    signed_with_public_key,
    unsigned,
)

#: A claim that makes a launch wrong, and why.
WRONG: dict[str, dict[str, Any]] = {
    "iss of another": {"iss": "https://other.example"},
    "iss missing": {"iss": None},
    "aud of another": {"aud": "other-tool"},
    "aud missing": {"aud": None},
    "aud empty": {"aud": []},
    "aud of several without azp": {"aud": ["ricalco-here", "other-tool"]},
    "azp of another": {"azp": "other-tool"},
    "azp of another among several": {"aud": ["ricalco-here", "other-tool"], "azp": "other-tool"},
    "deployment of another": {f"{CLAIM}deployment_id": "2:second"},
    "deployment missing": {f"{CLAIM}deployment_id": None},
    "deployment a list": {f"{CLAIM}deployment_id": ["1:first"]},
    "nonce of another": {"nonce": "another"},
    "nonce missing": {"nonce": None},
    "iat missing": {"iat": None},
    "exp missing": {"exp": None},
    "exp a text": {"exp": "tomorrow"},
    "exp without end": {"exp": 1e400},
    "exp true": {"exp": True},
    "target elsewhere": {f"{CLAIM}target_link_uri": "https://other.example/lti/launch"},
    "target another page": {f"{CLAIM}target_link_uri": f"{HOME}embed"},
    "target missing": {f"{CLAIM}target_link_uri": None},
    "version": {f"{CLAIM}version": "1.1"},
    "message of another kind": {f"{CLAIM}message_type": "LtiSubmissionReviewRequest"},
    "message missing": {f"{CLAIM}message_type": None},
    "nobody": {"sub": None},
    "nobody by an empty id": {"sub": ""},
    "an id too long": {"sub": "u" * 256},
    "no text": {"name": "A\0da"},
    "no course": {f"{CLAIM}context": None},
    "a course without id": {f"{CLAIM}context": {"title": "Drawing"}},
    "no activity": {f"{CLAIM}resource_link": {}},
}


#: The same of times, in seconds from when it is asked.
WRONG_TIMES: dict[str, dict[str, int]] = {
    "over": {"iat": -400, "exp": -100},
    "issued long ago": {"iat": -3600, "exp": 3600},
    "from the future": {"iat": 900, "exp": 1200},
    "not valid yet": {"nbf": 900},
}


@pytest.fixture
def opened(world: World) -> World:
    """A course that its tutor has opened, so that nothing else keeps a launch out."""
    world.launch_tutor()
    return world


def check_refused(world: World, answer: TestResponse) -> None:
    """It is refused with words, and nobody has come."""
    assert answer.json is not None
    assert answer.json["code"] == "launch-refused", answer.text
    assert answer.status_code == 403
    assert len(answer.json["detail"]) > 20
    assert "rct_" not in answer.text
    (row,) = world.ledger.classes.of_tutor(world.tutor_id)
    assert world.ledger.students.of_class(row.id) == ()


@pytest.mark.parametrize("why", WRONG)
def test_a_wrong_claim_lets_nobody_in(opened: World, why: str) -> None:
    check_refused(opened, opened.launch(**WRONG[why]))


@pytest.mark.parametrize("why", WRONG_TIMES)
def test_a_wrong_time_lets_nobody_in(opened: World, why: str) -> None:
    now = int(time.time())
    times = {name: now + seconds for name, seconds in WRONG_TIMES[why].items()}
    check_refused(opened, opened.launch(**times))


def test_several_audiences_with_our_azp_are_fine(opened: World) -> None:
    # Security Framework 1.0, 5.1.3, steps 3 to 5.
    data_of(opened.launch(aud=["ricalco-here", "other-tool"], azp="ricalco-here"))


def test_clocks_may_differ_by_a_minute(opened: World) -> None:
    now = int(time.time())
    data_of(opened.launch(iat=now + 45, exp=now + 300))
    data_of(opened.launch(iat=now - 300, exp=now - 45))


def _another_key(_: World, claims: dict[str, Any]) -> str:
    key = RSAKey.generate_key(2048)
    return jwt.encode({"alg": "RS256", "kid": "k1"}, claims, key)


def _unknown_key(_: World, claims: dict[str, Any]) -> str:
    return jwt.encode({"alg": "RS256", "kid": "k9"}, claims, new_key("k9"))


def _without_key_id(world: World, claims: dict[str, Any]) -> str:
    return jwt.encode({"alg": "RS256"}, claims, world.platform.keys["k1"])


def _own_key_in_header(_: World, claims: dict[str, Any]) -> str:
    key = new_key("k1-false")
    header = {"alg": "RS256", "kid": "k1", "jwk": key.as_dict(private=False)}
    return jwt.encode(header, claims, key)


def _unpublished_algorithm(world: World, claims: dict[str, Any]) -> str:
    key = RSAKey.import_key(world.platform.keys["k1"].as_pem(private=True))
    return jwt.encode({"alg": "RS512", "kid": "k1"}, claims, key, algorithms=["RS512"])


def _short_key(world: World, claims: dict[str, Any]) -> str:
    world.platform.keys["short"] = short_key("short")
    world.app.extensions["ricalco-platform-keys"]._kept.clear()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", SecurityWarning)
        return world.platform.sign(claims, "short")


def _curve_named_as_rsa(_: World, claims: dict[str, Any]) -> str:
    return jwt.encode(
        {"alg": "ES256", "kid": "k1"}, claims, new_curve_key("k1"), algorithms=["ES256"]
    )


def _changed(world: World, claims: dict[str, Any]) -> str:
    head, _, signature = world.platform.sign(claims).split(".")
    body = world.platform.sign({**claims, "sub": "user-2"}).split(".")[1]
    return f"{head}.{body}.{signature}"


FORGED: dict[str, Callable[[World, dict[str, Any]], str]] = {
    "unsigned": lambda _, claims: unsigned(claims),
    "HMAC with the public key": lambda world, claims: signed_with_public_key(
        world.platform, claims
    ),
    "another's key under our id": _another_key,
    "a key that is not published": _unknown_key,
    "no key id": _without_key_id,
    "its own key in the header": _own_key_in_header,
    "another algorithm": _unpublished_algorithm,
    "a key that is too short": _short_key,
    "a curve where RSA is published": _curve_named_as_rsa,
    "changed after signing": _changed,
    "no token": lambda *_: "abc",
    "two dots": lambda *_: "..",
    "far too long": lambda *_: "a" * 70_000,
}


@pytest.mark.parametrize("how", FORGED)
def test_a_forged_token_lets_nobody_in(opened: World, how: str) -> None:
    browser = opened.browser()
    asked = opened.login(browser)
    token = FORGED[how](opened, opened.claims(asked))
    answer = opened.send(browser, asked["state"], token)
    check_refused(opened, answer)


def test_a_token_of_another_platform_lets_nobody_in(opened: World) -> None:
    with serving() as other:
        other.keys = {"k1": new_key("other")}
        register(opened.ledger, other, opened.tutor_id)
        browser = opened.browser()
        asked = opened.login(browser)
        # With its own key, and in the name of the first: both know no secret of the other.
        token = other.sign(opened.claims(asked))
        check_refused(opened, opened.send(browser, asked["state"], token))
        # As itself, at a login that the first began.
        asked = opened.login(browser)
        token = other.sign(other.claims(asked["nonce"], TARGET))
        check_refused(opened, opened.send(browser, asked["state"], token))


def test_a_launch_is_good_once(opened: World) -> None:
    browser = opened.browser()
    asked = opened.login(browser)
    token = opened.platform.sign(opened.claims(asked))
    (name,) = [one.key for one in browser._cookies.values()]  # type: ignore[attr-defined]
    cookie = browser.get_cookie(name, domain="localhost")
    assert cookie is not None
    assert opened.send(browser, asked["state"], token).status_code == 200
    assert browser.get_cookie(name, domain="localhost") is None
    browser.set_cookie(name, cookie.value, domain="localhost", secure=True)
    again = opened.send(browser, asked["state"], token)
    assert (again.status_code, again.json["code"]) == (403, "launch-refused")  # type: ignore[index]
    # Nor does the token open another login: its nonce is of the first.
    other = opened.login(browser)
    again = opened.send(browser, other["state"], token)
    assert (again.status_code, again.json["code"]) == (403, "launch-refused")  # type: ignore[index]


def test_the_state_of_another_browser_lets_nobody_in(opened: World) -> None:
    # Login CSRF: somebody's own launch, sent by the browser of another.
    asked = opened.login(opened.browser())
    token = opened.platform.sign(opened.claims(asked))
    check_refused(opened, opened.send(opened.browser(), asked["state"], token))
    victim = opened.browser()
    opened.login(victim)
    check_refused(opened, opened.send(victim, asked["state"], token))
    # With the victim's own cookie under the attacker's name.
    mixed = opened.browser()
    mixed.set_cookie(
        f"__Host-ricalco_lti_{asked['state'][:12]}", "guessed", domain="localhost", secure=True
    )
    check_refused(opened, opened.send(mixed, asked["state"], token))


@pytest.mark.parametrize("state", ["", "unknown", "a" * 9000, "é"])
def test_a_state_that_never_was_lets_nobody_in(opened: World, state: str) -> None:
    browser = opened.browser()
    asked = opened.login(browser)
    token = opened.platform.sign(opened.claims(asked))
    check_refused(opened, opened.send(browser, state, token))


def test_a_login_is_over_after_ten_minutes(opened: World, monkeypatch: pytest.MonkeyPatch) -> None:
    browser = opened.browser()
    asked = opened.login(browser)
    monkeypatch.setattr(opened.ledger.launches, "_clock", lambda: time.time() + 601)
    token = opened.platform.sign(opened.claims(asked))
    check_refused(opened, opened.send(browser, asked["state"], token))


@pytest.mark.parametrize(
    "change",
    [
        {"iss": "https://other.example"},
        {"iss": ""},
        {"client_id": "other-tool"},
        {"lti_deployment_id": "2:second"},
        {"target_link_uri": "https://other.example/lti/launch"},
        {"target_link_uri": f"{TARGET}?next=https://other.example"},
        {"target_link_uri": TARGET.replace("https", "http")},
        {"target_link_uri": ""},
        {"login_hint": ""},
        {"login_hint": "h" * 9000},
    ],
    ids=str,
)
def test_a_wrong_login_begins_nothing(world: World, change: dict[str, str]) -> None:
    answer = world.browser().post(
        "/lti/login", data=world.platform.login(TARGET, **change), base_url=HOME
    )
    assert (answer.status_code, answer.json["code"]) == (403, "launch-refused")  # type: ignore[index]
    assert "Set-Cookie" not in answer.headers


def test_unknown_keys_make_us_ask_once(opened: World) -> None:
    before = opened.platform.count("/jwks")
    for _ in range(4):
        browser = opened.browser()
        asked = opened.login(browser)
        token = _unknown_key(opened, opened.claims(asked))
        check_refused(opened, opened.send(browser, asked["state"], token))
    assert opened.platform.count("/jwks") <= before + 1


def test_a_login_is_over_after_three_wrong_tokens(opened: World) -> None:
    browser = opened.browser()
    asked = opened.login(browser)
    for _ in range(3):
        check_refused(opened, opened.send(browser, asked["state"], "a.b.c"))
    good = opened.platform.sign(opened.claims(asked))
    check_refused(opened, opened.send(browser, asked["state"], good))
    # A browser that did not begin it cannot end it.
    asked = opened.login(browser)
    for _ in range(3):
        check_refused(opened, opened.send(opened.browser(), asked["state"], "a.b.c"))
    good = opened.platform.sign(opened.claims(asked))
    data_of(opened.send(browser, asked["state"], good))


def test_a_platform_keeps_the_secret_where_no_cookie_is_kept(opened: World) -> None:
    # LTI Client Side postMessages 1.0: lti.put_data and lti.get_data, by the platform's window.
    began = opened.browser().post(
        "/lti/login", data=opened.platform.login(TARGET, lti_storage_target="_parent"),
        base_url=HOME,
    )  # fmt: skip
    kept = data_of(began)
    assert kept["target"] == "_parent"
    assert kept["origin"] == opened.platform.base
    assert kept["next"].startswith(opened.platform.auth_url)
    # What is kept is in no address.
    assert kept["value"] not in kept["next"]
    asked = dict(one.split("=") for one in kept["next"].split("?")[1].split("&"))
    token = opened.platform.sign(opened.claims(asked))
    browser = opened.browser()
    shown = opened.send(browser, asked["state"], token)
    data = data_of(shown)
    assert (data["key"], data["state"]) == (kept["key"], asked["state"])
    assert kept["value"] not in shown.text
    again = {"state": asked["state"], "id_token": token}

    def send(stored: str, **headers: str) -> TestResponse:
        form = {**again, "stored": stored}
        return browser.post("/lti/launch", data=form, base_url=HOME, headers=headers)

    own = {"Origin": "https://localhost"}
    # Somebody else's page sends what its own browser keeps: no.
    check_refused(opened, send(kept["value"], Origin="https://other.example"))
    check_refused(opened, send(kept["value"], Origin="null"))
    check_refused(opened, send(kept["value"]))
    check_refused(opened, send("", **own))
    check_refused(opened, send("guessed", **own))
    assert "token" in data_of(send(kept["value"], **own))


def test_a_context_is_of_its_deployment(opened: World) -> None:
    # LTI 1.3 Core, 5.4.1: a context's id is unique within its deployment only.
    assert opened.ledger.platforms.context(opened.row.id, "2:second", COURSE["id"]) is None
