"""The frame's scripts send nothing to whoever listens, and keep nothing of a session.

What is sent by `postMessage` with `*` is read by any page that has the window (HTML Standard,
9.3.4). What the browser does with these scripts, tests/integration/course shows.
"""

from __future__ import annotations

import re

from client.web import FOLDER

SCRIPTS = [FOLDER / "embed.js", *sorted((FOLDER / "js" / "embed").glob("*.js"))]
_STORES = r"localStorage|sessionStorage|indexedDB|caches\b|\.cookie\b|pushState|replaceState"


def code(text: str) -> str:
    """A script without its comments."""
    return re.sub(r"(?ms)/\*.*?\*/|(?<!:)//[^\n]*", "", text)


def test_every_message_is_sent_to_a_stated_origin() -> None:
    text = "".join(code(path.read_text("utf-8")) for path in SCRIPTS)
    calls = re.findall(r"postMessage\((.*)\);", text)
    targets = [one.rpartition(", ")[2] for one in calls]
    assert sorted(targets) == ["origin", "stated"]


def test_every_listener_checks_window_and_origin_first() -> None:
    text = "".join(code(path.read_text("utf-8")) for path in SCRIPTS)
    listeners = re.findall(r'addEventListener\("message".*?\n(.*?)\n', text)
    assert len(listeners) == len(re.findall(r'"message"', text)) == 2
    for first in listeners:
        assert re.search(r"source [!=]== ", first)
        assert re.search(r"(?:origin|from) [!=]== ", first)


def test_no_token_is_stored() -> None:
    for path in SCRIPTS:
        assert not re.search(_STORES, code(path.read_text("utf-8"))), path.name
