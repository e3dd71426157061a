"""The number of a pack: printed on everything of it, and found again from what it is made of."""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict
from typing import Any

from worker.spec.short_codes import LETTERS, shown_code
from worker.spec.spec import Spec

#: RFC 4648, 6: what each letter of a code stands for.
_BASE32 = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"


def pack_number(master_digest: str, spec: Spec, title: str, recipient: str = "") -> str:
    """The number on each sheet, by which a lost one can be requested again.

    It depends on photo, title, the whole spec (also on fields that the style does not use) and
    the name that the sheets carry, so that a class of one photo has thirty numbers; and on
    nothing else.

    Returns:
        Eight letters and digits that are not misread, such as `7K3F-Q2ZD`.
    """
    named = [recipient] if recipient else []
    text = json.dumps([master_digest, _plain(asdict(spec)), title, *named], sort_keys=True)
    digest = hashlib.sha256(text.encode()).digest()
    letters = base64.b32encode(digest[:5]).decode().translate(str.maketrans(_BASE32, LETTERS))
    return shown_code(letters)


def _plain(value: Any) -> Any:
    """As JSON, with 600 and 600.0 the same."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(each) for each in value]
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value
