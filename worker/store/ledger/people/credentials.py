"""Access keys and join codes: how they are made, and how keys are hashed.

An access key has 256 random bits and cannot be guessed, so a plain SHA-256 of it is as safe as
the slow hash that a password needs. A join code is short because people read it from a board; it
opens nothing while joining is closed, and the service limits wrong attempts.
"""

from __future__ import annotations

import hashlib
import secrets

from worker.spec.short_codes import CODE_LETTERS, LETTERS

KEY_PREFIX = "rck_"
SIGN_IN_PREFIX = "rcs_"
LINK_PREFIX = "rcl_"
KEY_LINK_PREFIX = "rcn_"
SESSION_PREFIX = "rct_"
LAUNCH_PREFIX = "rcp_"


def new_key() -> str:
    """An access key, to be shown once."""
    return KEY_PREFIX + secrets.token_urlsafe(32)


def new_sign_in() -> str:
    """The secret of a browser's sign-in; it is stored in a cookie and not shown."""
    return SIGN_IN_PREFIX + secrets.token_urlsafe(32)


def new_link() -> str:
    """The secret of a link to one file, to be told once."""
    return LINK_PREFIX + secrets.token_urlsafe(32)


def new_key_link() -> str:
    """The secret of a link to a new key, to be told once."""
    return KEY_LINK_PREFIX + secrets.token_urlsafe(32)


def new_token() -> str:
    """The token of a session, to be shown once."""
    return SESSION_PREFIX + secrets.token_urlsafe(32)


def new_launch() -> str:
    """The secret by which the page of one launch from a learning platform goes on."""
    return LAUNCH_PREFIX + secrets.token_urlsafe(32)


def key_hash(key: str) -> str:
    """The hash by which a key is stored."""
    return hashlib.sha256(key.encode()).hexdigest()


def new_code() -> str:
    """A join code: 40 random bits."""
    return "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))
