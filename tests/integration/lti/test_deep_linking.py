"""Deep Linking 2.0: the request (4.4), and the answer that a tutor's browser carries back (4.5)."""

from __future__ import annotations

import html
import re
import time
from typing import Any

import pytest
from joserfc import jwt
from joserfc.jwk import KeySet
from werkzeug.test import TestResponse

from tests.integration.lti.conftest import HOME, ROLES, TARGET, World
from tests.servers.learning_platform import CLAIM, MEMBER

#: Names of claims (4.4 and 4.5).
DEEP = "https://purl.imsglobal.org/spec/lti-dl/claim/"


def ask(world: World, settings: dict[str, Any] | None = None, **more: Any) -> TestResponse:
    """A tutor wants to place an activity."""
    asked = {
        "deep_link_return_url": f"{world.platform.base}/content?item=7",
        "accept_types": ["link", "ltiResourceLink"],
        "accept_presentation_document_targets": ["iframe", "window"],
        "data": "csrf:1 & <more>",
        **(settings or {}),
    }
    claims = {
        f"{CLAIM}message_type": "LtiDeepLinkingRequest",
        f"{CLAIM}resource_link": None,
        f"{DEEP}deep_linking_settings": asked,
    }
    return world.launch_tutor(**{**claims, **more})


def carried(world: World, answer: TestResponse) -> tuple[str, dict[str, Any], dict[str, Any]]:
    """Where the form leads, and header and claims of its token, checked with our public keys."""
    assert answer.status_code == 200, answer.text
    (leads_to,) = re.findall(r'<form method="post" action="([^"]*)">', answer.text)
    (token,) = re.findall(r'name="JWT" value="([^"]*)"', answer.text)
    keys = KeySet.import_key_set(world.browser().get("/lti/jwks", base_url=HOME).json)
    read = jwt.decode(token, keys, algorithms=["RS256"])
    return html.unescape(leads_to), read.header, read.claims


def test_a_tutor_places_the_activity(world: World) -> None:
    answer = ask(world)
    leads_to, header, claims = carried(world, answer)
    assert leads_to == f"{world.platform.base}/content?item=7"
    assert header["kid"]
    # 4.5 and Security Framework 1.0, 5.2: issuer and audience change places.
    assert (claims["iss"], claims["aud"]) == (world.platform.client_id, world.platform.issuer)
    assert claims["nonce"]
    assert claims["iat"] <= time.time() < claims["exp"] <= claims["iat"] + 3600
    assert claims[f"{CLAIM}message_type"] == "LtiDeepLinkingResponse"
    assert claims[f"{CLAIM}version"] == "1.3.0"
    assert claims[f"{CLAIM}deployment_id"] == world.platform.deployment_id
    assert claims[f"{DEEP}data"] == "csrf:1 & <more>"
    (item,) = claims[f"{DEEP}content_items"]
    # 2.1.2: a link to an activity; its url is where it is launched.
    assert (item["type"], item["url"]) == ("ltiResourceLink", TARGET)
    assert item["lineItem"]["scoreMaximum"] > 0
    policy = answer.headers["Content-Security-Policy"]
    assert f"form-action {world.platform.base} https://course.example" in policy
    # Looking at it makes nothing.
    assert world.ledger.classes.of_tutor(world.tutor_id) == ()


def test_the_link_leads_where_the_platform_says(world: World) -> None:
    browser = world.browser()
    asked = world.login(browser)
    settings = {
        "deep_link_return_url": f"{world.platform.base}/content",
        "accept_types": ["ltiResourceLink"],
    }
    claims = world.claims(
        asked,
        **{
            ROLES: [f"{MEMBER}Instructor"],
            f"{CLAIM}message_type": "LtiDeepLinkingRequest",
            f"{DEEP}deep_linking_settings": settings,
        },
    )
    answer = world.send_elsewhere(browser, asked["state"], world.platform.sign(claims))
    _, _, signed = carried(world, answer)
    assert signed[f"{DEEP}content_items"][0]["url"] == TARGET


def test_what_the_platform_does_not_take_is_left_out(world: World) -> None:
    _, _, claims = carried(world, ask(world, {"accept_lineitem": False}))
    assert "lineItem" not in claims[f"{DEEP}content_items"][0]


@pytest.mark.parametrize(
    "settings",
    [
        {"accept_types": ["link"]},
        {"accept_types": None},
        {"deep_link_return_url": None},
        {"deep_link_return_url": "http://platform.example/content"},
        {"deep_link_return_url": "javascript:alert(1)"},
        {"deep_link_return_url": "https://user@platform.example/"},
    ],
    ids=str,
)
def test_a_wrong_request_is_answered_with_nothing(world: World, settings: dict[str, Any]) -> None:
    refused = ask(world, settings)
    assert (refused.status_code, refused.json["code"]) == (403, "launch-refused")  # type: ignore[index]


def test_students_place_nothing(world: World) -> None:
    refused = ask(world, **{ROLES: [f"{MEMBER}Learner"]})
    assert (refused.status_code, refused.json["code"]) == (403, "launch-refused")  # type: ignore[index]
