"""File names for downloads, made from titles that people typed.

RFC 6266 gives a plain ASCII `filename` for old readers and `filename*` (RFC 8187) with
the real letters. Whatever could be a path, a device or a control character is left out.
"""

from __future__ import annotations

import re
import unicodedata
from urllib.parse import quote

MAX_LETTERS = 80
#: Names that Windows keeps for devices, whatever follows them.
_DEVICES = re.compile(r"^(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)
_FORBIDDEN = set('<>:"/\\|?*%;')


def safe_stem(title: str, fallback: str) -> str:
    """A title as the first part of a file name."""
    kept = "".join(
        " " if letter in _FORBIDDEN or unicodedata.category(letter)[0] in "CZ" else letter
        for letter in unicodedata.normalize("NFC", title)
    )
    stem = " ".join(kept.split())[:MAX_LETTERS].strip(" .")
    return fallback if not stem or _DEVICES.match(stem) else stem


def content_disposition(name: str) -> str:
    """The header for a file of this name, which is shown in place where it can be."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    plain = re.sub(r"[^A-Za-z0-9 ._()+,=@-]", "", plain).strip()
    if not plain.rpartition(".")[0]:
        plain = "ricalco" + plain[plain.rfind(".") :] if "." in plain else "ricalco"
    header = f'inline; filename="{plain}"'
    if plain != name:
        header += f"; filename*=UTF-8''{quote(name, safe='')}"
    return header
