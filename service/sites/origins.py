"""Origins of a course site's pages, in the form in which browsers send them."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from marshmallow import ValidationError, fields

MOST_LETTERS = 255
_FORM = "Write an origin as browsers send it, such as https://course.example: no path, no slash."
_DEFAULT_PORTS = {"http": 80, "https": 443}


class Origin(fields.String):
    """An origin of a page: scheme, host and port (RFC 6454, 6.2), without wildcards."""

    def _deserialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        written = super()._deserialize(value, *args, **kwargs)
        if not is_origin(written):
            raise ValidationError(_FORM)
        return written


def is_origin(written: str) -> bool:
    """Whether a browser would send this, letter by letter, as the origin of a page.

    Names beyond ASCII are written as the name system has them (`xn--…`), and the port that is
    the scheme's own is left out; so two origins are the same where their texts are.
    """
    try:
        parts = urlsplit(written)
        port = parts.port
    except ValueError:
        return False
    if parts.scheme not in _DEFAULT_PORTS or port == _DEFAULT_PORTS[parts.scheme]:
        return False
    host = parts.hostname or ""
    shown = f"[{host}]" if ":" in host else host
    plain = f"{parts.scheme}://{shown}" + (f":{port}" if port is not None else "")
    named = bool(host) and host.isascii() and not set(host) & set("*_%,; ")
    return named and written == plain and len(written) <= MOST_LETTERS
