"""The service with a platform that launches into it, over TLS as a proxy would end it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from client.web import FOLDER
from service.app import create_app
from service.lti.login import cookie_name
from service.runtime.context import EXTENSION
from tests.servers.learning_platform import CLAIM, MEMBER, LearningPlatform, serving
from worker.settings import Settings
from worker.store.ledger import Ledger, NewPlatform, PlatformRow

HOME = "https://localhost/"
TARGET = f"{HOME}lti/launch"
#: How a browser sends a form of another site's page in a frame (Fetch Metadata; Fetch, 3.1).
FROM_PLATFORM = {
    "Sec-Fetch-Site": "cross-site",
    "Sec-Fetch-Mode": "navigate",
    "Sec-Fetch-Dest": "iframe",
    "Accept": "*/*",
}


@dataclass
class World:
    """The service, a platform that is registered there, and what a browser does between them."""

    app: Flask
    ledger: Ledger
    platform: LearningPlatform
    row: PlatformRow
    tutor_id: str

    def browser(self) -> FlaskClient:
        """A browser without cookies."""
        return self.app.test_client()

    def login(self, browser: FlaskClient, **more: str) -> dict[str, str]:
        """Begin a login; returns the parameters of the authentication request."""
        sent = self.platform.login(TARGET, **more)
        answer = browser.post(
            "/lti/login", data=sent, base_url=HOME,
            headers={**FROM_PLATFORM, "Origin": self.platform.base},
        )  # fmt: skip
        assert answer.status_code == 302, answer.text
        return {name: one[0] for name, one in parse_qs(urlsplit(answer.location).query).items()}

    def claims(self, asked: dict[str, str], **more: Any) -> dict[str, Any]:
        """The claims of a good launch, with changes."""
        return {**self.platform.claims(asked["nonce"], TARGET), **more}

    def send(self, browser: FlaskClient, state: str, token: str, **headers: str) -> TestResponse:
        """Send a launch as the platform's page has the browser send it."""
        return browser.post(
            "/lti/launch", data={"state": state, "id_token": token}, base_url=HOME,
            headers={**FROM_PLATFORM, "Origin": self.platform.base, **headers},
        )  # fmt: skip

    def send_elsewhere(self, browser: FlaskClient, state: str, token: str) -> TestResponse:
        """Send a launch under another name of the service: `Host` is the sender's word."""
        cookie = browser.get_cookie(cookie_name(state))
        assert cookie is not None
        browser.set_cookie(cookie.key, cookie.value, domain="127.0.0.1", secure=True)
        return browser.post(
            "/lti/launch", data={"state": state, "id_token": token},
            base_url="https://127.0.0.1/", headers=FROM_PLATFORM,
        )  # fmt: skip

    def launch(self, **more: Any) -> TestResponse:
        """A whole launch in a new browser."""
        browser = self.browser()
        asked = self.login(browser)
        return self.send(browser, asked["state"], self.platform.sign(self.claims(asked, **more)))

    def launch_tutor(self, **more: Any) -> TestResponse:
        """A tutor opens the course."""
        return self.launch(
            **{"sub": "teacher-1", "name": "Ruth Blume", ROLES: [f"{MEMBER}Instructor"], **more}
        )


ROLES = f"{CLAIM}roles"


def data_of(answer: TestResponse) -> dict[str, Any]:
    """What the document of a launch has for its script."""
    assert answer.status_code == 200, answer.text
    element = r'<script type="application/json" id="launch">(.*?)</script>'
    (found,) = re.findall(element, answer.text)
    return dict(json.loads(found))


def register(ledger: Ledger, platform: LearningPlatform, tutor_id: str, **more: Any) -> PlatformRow:
    """What the operator does."""
    given = {
        "tutor_id": tutor_id,
        "name": "Course pages",
        "issuer": platform.issuer,
        "client_id": platform.client_id,
        "deployment_ids": (platform.deployment_id,),
        "auth_url": platform.auth_url,
        "token_url": platform.token_url,
        "jwks_url": platform.jwks_url,
        "origins": ("https://course.example",),
    }
    return ledger.platforms.add(NewPlatform(**{**given, **more}))


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Flask]:
    """The service, which asks platforms on this machine."""
    folder = tmp_path_factory.mktemp("data")
    settings = Settings(data_dir=folder, page_dir=FOLDER, lti_private_hosts=("127.0.0.1",))
    made = create_app(settings)
    yield made
    made.extensions[EXTENSION].ledger.close()


@pytest.fixture
def platform() -> Iterator[LearningPlatform]:
    """A platform on loopback."""
    with serving() as made:
        yield made


@pytest.fixture
def world(app: Flask, platform: LearningPlatform) -> World:
    """The service, with that platform registered for a tutor of its own."""
    ledger: Ledger = app.extensions[EXTENSION].ledger
    tutor_id = ledger.people.add_tutor("Head of art")[0].id
    row = register(ledger, platform, tutor_id)
    return World(app=app, ledger=ledger, platform=platform, row=row, tutor_id=tutor_id)
