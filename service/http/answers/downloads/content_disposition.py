"""The Content-Disposition header with a download's file name.

RFC 6266 has a plain ASCII `filename` for old clients and `filename*` (RFC 8187) with the
real letters. werkzeug's `send_file` is not used for it: it leaves `filename` without a name
where no letter is ASCII, and writes it without quotation marks where it can.
"""

from __future__ import annotations

import re
import unicodedata
from urllib.parse import quote


def content_disposition(name: str) -> str:
    """The header's value for a file of this name; `inline` lets a browser show it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    plain = re.sub(r"[^A-Za-z0-9 ._()+,=@-]", "", plain).strip()
    if not plain.rpartition(".")[0]:
        plain = "ricalco" + plain[plain.rfind(".") :] if "." in plain else "ricalco"
    header = f'inline; filename="{plain}"'
    if plain != name:
        header += f"; filename*=UTF-8''{quote(name, safe='')}"
    return header
