"""Keys and codes: made so that nobody can guess them, kept so that nobody can read them.

An access key is 256 random bits, so a plain SHA-256 of it is as safe as a slow hash of a
password would be: there is nothing to try. A join code is short because it is read off a
board; it opens nothing while joining is closed, and the service counts wrong ones.
"""

from __future__ import annotations

import hashlib
import secrets

KEY_PREFIX = "rck_"
SIGN_IN_PREFIX = "rcs_"
#: Letters and digits that are not taken for one another (after Crockford's base 32).
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LETTERS = 8
#: What people write for letters that a code has not.
_MISREAD = str.maketrans({"O": "0", "I": "1", "L": "1", "-": None, " ": None})


def new_key() -> str:
    """An access key, to be shown once."""
    return KEY_PREFIX + secrets.token_urlsafe(32)


def new_sign_in() -> str:
    """What a browser's sign-in opens with; it is shown to nobody, and kept in a cookie."""
    return SIGN_IN_PREFIX + secrets.token_urlsafe(32)


def key_hash(key: str) -> str:
    """What is kept of a key."""
    return hashlib.sha256(key.encode()).hexdigest()


def new_code() -> str:
    """A join code: 40 random bits."""
    return "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))


def shown_code(code: str) -> str:
    """A join code as it stands on a board."""
    return f"{code[:4]}-{code[4:]}"


def read_code(written: str) -> str:
    """A join code as somebody typed it."""
    return written.upper().translate(_MISREAD)
