"""A login that a platform begins: OpenID Connect third-party login (Security Framework 1.0, 5.1.1).

State and nonce are new each time, and what only this browser is given ties the launch to it: in a
cookie of this frame (`Partitioned`, which browsers that block third-party cookies keep), and, where
the platform offers it, in the platform's own storage (LTI Client Side postMessages 1.0).
"""

from __future__ import annotations

import secrets
from http import HTTPStatus
from typing import Final
from urllib.parse import urlencode, urlsplit

from flask import Response, g, request

from service.http.errors import LaunchRefused
from service.lti import names, pages
from service.lti.id_token import Claims
from service.lti.words import words_for
from service.page import Page
from service.runtime.context import get_context
from worker.store.ledger import LoginRow, PlatformRow

#: Characters of a parameter that are read; hints of platforms may be tokens themselves.
MOST_LETTERS: Final = 8000
COOKIE_S: Final = 600
_KEPT_UNDER: Final = "ricalco_"
_LAUNCH: Final = "lti/launch"


def begin(files: Page | None) -> Response:
    """Note a login, and send the browser to the platform to be authenticated (5.1.1.2).

    Raises:
        LaunchRefused: The platform, its deployment or the target is none of those registered, or
            something is missing.
    """
    platform = g.lti_platform = _platform()
    target = parameter("target_link_uri")
    if target != launch_url():
        raise LaunchRefused(f"target_link_uri must be {launch_url()}.")
    deployment = parameter("lti_deployment_id", optional=True)
    if deployment and deployment not in platform.deployment_ids:
        raise LaunchRefused("The login is from a deployment that is not registered here.")
    storage = parameter("lti_storage_target", optional=True)
    state, nonce, browser = (secrets.token_urlsafe(32) for _ in range(3))
    login = LoginRow(
        state=state,
        nonce=nonce,
        browser=browser,
        platform_id=platform.id,
        target_link_uri=target,
        in_storage=bool(storage),
    )
    leads_to = _authentication(platform, login)
    get_context().ledger.launches.begin(login)
    if not storage:
        shown = Response(status=HTTPStatus.FOUND, headers={"Location": leads_to})
    else:
        shown = _keep(files, platform, login, storage, leads_to)
    return _remember(shown, login)


def launch_url() -> str:
    """The address of launches, as the platform knows it."""
    return request.host_url + _LAUNCH


def home_of(claims: Claims) -> str:
    """The address of this service, as the platform's signature confirms it.

    The `Host` of a launch is what its sender says; `target_link_uri` is what is set up at the
    platform, and is checked to be the one with which the login began.
    """
    return str(claims[names.TARGET]).removesuffix(_LAUNCH)


def parameter(name: str, *, optional: bool = False) -> str:
    """A parameter of this request, which comes once.

    Raises:
        LaunchRefused: It is missing, comes twice, or is too long.
    """
    found = request.values.getlist(name)
    if not found and optional:
        return ""
    if len(found) != 1 or not 0 < len(found[0]) <= MOST_LETTERS:
        raise LaunchRefused(f"The platform must send {name}, once.")
    return found[0]


def cookie_name(state: str) -> str:
    """The cookie of one login: several may be under way in one browser."""
    return f"__Host-ricalco_lti_{state[:12]}"


def stored_as(state: str) -> str:
    """The name under which a platform keeps the secret of one login."""
    return _KEPT_UNDER + state[:12]


def _platform() -> PlatformRow:
    """The platform that begins the login."""
    issuer, client = parameter("iss"), parameter("client_id", optional=True)
    found = get_context().ledger.platforms.registered(issuer, client or None)
    if not found:
        raise LaunchRefused("No such platform is registered here: see ricalco lti add.")
    if len(found) > 1:
        raise LaunchRefused("This issuer has several clients here: the platform must say which.")
    return found[0]


def _authentication(platform: PlatformRow, login: LoginRow) -> str:
    """The address of the authentication request (5.1.1.2)."""
    asked = {
        "scope": "openid",
        "response_type": "id_token",
        "response_mode": "form_post",
        "prompt": "none",
        "client_id": platform.client_id,
        "redirect_uri": launch_url(),
        "login_hint": parameter("login_hint"),
        "state": login.state,
        "nonce": login.nonce,
    }
    hint = parameter("lti_message_hint", optional=True)
    if hint:
        asked["lti_message_hint"] = hint
    between = "&" if urlsplit(platform.auth_url).query else "?"
    return platform.auth_url + between + urlencode(asked)


def _keep(
    files: Page | None, platform: PlatformRow, login: LoginRow, storage: str, leads_to: str
) -> Response:
    """Has the platform keep the login's secret for this browser."""
    data = {
        "target": storage,
        "origin": origin_of(platform.auth_url),
        "key": stored_as(login.state),
        "value": login.browser,
        "next": leads_to,
    }
    return pages.storing(words_for(files), data, platform)


def origin_of(url: str) -> str:
    """The origin of an address."""
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}"


def _remember(response: Response, login: LoginRow) -> Response:
    response.set_cookie(
        cookie_name(login.state),
        login.browser,
        max_age=COOKIE_S,
        path="/",
        secure=True,
        httponly=True,
        samesite="None",
        partitioned=True,
    )
    return response
