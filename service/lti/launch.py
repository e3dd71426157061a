"""A launch: the end of a login, with a token of the platform (Security Framework 1.0, 5.1.1.3).

It must come from the browser in which its login began, or somebody could put their own account
before another person (login cross-site request forgery). Either that browser's cookie shows it, or
the platform's storage does: then the launch is first answered with a page that fetches the secret
from there, and sends the launch again from our own origin. A login is used up by its launch, and
by a few with wrong tokens: each would make us check a signature, and ask for keys.
"""

from __future__ import annotations

import hmac

from flask import Response, g, request

from service.access.identity import asking_origin
from service.http.errors import LaunchRefused
from service.lti import pages
from service.lti.id_token import Claims, check_token
from service.lti.login import cookie_name, origin_of, parameter, stored_as
from service.lti.platform_keys import PlatformKeys
from service.lti.words import words_for
from service.page import Page
from service.runtime.context import get_context
from worker.store.ledger import LoginRow, PlatformRow
from worker.store.ledger.people.credentials import key_hash

_OVER = "This launch is over, or was used already: open it again in the course."


def finish(keys: PlatformKeys, files: Page | None) -> tuple[Claims, PlatformRow] | Response:
    """The claims of a launch that is good, or the page that makes sure of its browser.

    Raises:
        LaunchRefused: It is not.
        PlatformUnreachable: The platform's keys cannot be fetched.
    """
    ledger = get_context().ledger
    state = parameter("state")
    login = ledger.launches.login(state)
    if login is None:
        raise LaunchRefused(_OVER, reason="over")
    platform = g.lti_platform = ledger.platforms.get(login.platform_id)
    if request.form.get("error"):
        message = "The platform did not let you in. Open it again in the course."
        raise LaunchRefused(message, reason="over")
    token = parameter("id_token")
    secret = _secret(state)
    if secret is None:
        return _ask_storage(files, state, token, login)
    if not hmac.compare_digest(key_hash(secret), login.browser):
        message = "This launch began in another browser: open it again in the course."
        raise LaunchRefused(message, reason="browser")
    try:
        claims = check_token(token, platform, login, keys)
    except LaunchRefused:
        ledger.launches.note_failure(state)
        raise
    if not ledger.launches.use_up(state):
        raise LaunchRefused(_OVER, reason="over")
    return claims, platform


def _secret(state: str) -> str | None:
    """What this browser was given at the login; None: it shows nothing."""
    stored = request.form.get("stored")
    if stored is None:
        return request.cookies.get(cookie_name(state))
    # Only our own page reads it from the storage of this browser; others could send theirs.
    if request.headers.get("Origin") is None or asking_origin() is not None:
        raise LaunchRefused("Only our own page may say what the platform has kept.")
    if request.headers["Origin"] == "null":
        raise LaunchRefused("Only our own page may say what the platform has kept.")
    return stored


def _ask_storage(files: Page | None, state: str, token: str, login: LoginRow) -> Response:
    """The page that asks the platform's storage.

    Raises:
        LaunchRefused: The platform has none.
    """
    if not login.in_storage:
        raise LaunchRefused(
            "This browser keeps no cookies in this frame. Have the activity open in a new window "
            "(a setting of it in the course), or allow cookies for it.",
            reason="no-cookies",
        )
    platform: PlatformRow = g.lti_platform
    data = {
        "target": parameter("lti_storage_target", optional=True) or "_parent",
        "origin": origin_of(platform.auth_url),
        "key": stored_as(state),
        "state": state,
        "id_token": token,
    }
    return pages.fetching(words_for(files), data, platform)
