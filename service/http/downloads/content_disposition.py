"""The header that tells a download's name.

RFC 6266 gives a plain ASCII `filename` for old readers and `filename*` (RFC 8187) with
the real letters.
"""

from __future__ import annotations

import re
import unicodedata
from urllib.parse import quote


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
