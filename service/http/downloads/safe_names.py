"""File names made from names that people have, safe on every system that unpacks them.

A name may be in any script. What is left out is what could be a path, a device, a hidden
file, or a trick: controls that turn the reading direction can make one file look like
another. Joiners stay, since letters and emoji fall apart without them.
"""

from __future__ import annotations

import re
import unicodedata

#: File systems hold 255 bytes of UTF-8; the rest is room for a number and an ending.
MAX_BYTES = 160
#: Names that Windows keeps for devices, whatever follows them.
_DEVICES = re.compile(r"^(con|prn|aux|nul|com[\d¹²³]|lpt[\d¹²³])\s*(\.|$)", re.IGNORECASE)
_FORBIDDEN = frozenset('<>:"/\\|?*%;')
_JOINERS = "\u200c\u200d"


def safe_name(text: str, fallback: str, *, max_bytes: int = MAX_BYTES) -> str:
    """A text as a file's name, without an ending.

    Args:
        text: In any script.
        fallback: Where nothing of it is left.
        max_bytes: As UTF-8; letters are never cut in two, nor from their accents.
    """
    letters = unicodedata.normalize("NFC", text)
    kept = "".join(" " if _has_no_place(letter) else letter for letter in letters)
    name = _shortened(" ".join(kept.split()), max_bytes).strip(" ." + _JOINERS)
    return fallback if not name or _DEVICES.match(name) else name


class UniqueNames:
    """Names given out for one folder: none twice, whatever its case or composition."""

    def __init__(self) -> None:
        self._given: set[str] = set()

    def take(self, name: str, ending: str) -> str:
        """The name with its ending, and with a number where it was given before."""
        for number in range(1, len(self._given) + 2):
            wanted = f"{name}{ending}" if number == 1 else f"{name} ({number}){ending}"
            known = unicodedata.normalize("NFKC", wanted).casefold()
            if known not in self._given:
                self._given.add(known)
                return wanted
        raise AssertionError(name)  # One number more than names: one of them is free.


def _has_no_place(letter: str) -> bool:
    if letter in _JOINERS:
        return False
    return letter in _FORBIDDEN or unicodedata.category(letter)[0] in "CZ"


def _shortened(name: str, max_bytes: int) -> str:
    """As much as fits; what would lose its marks or its joint goes too."""
    if len(name.encode()) <= max_bytes:
        return name
    end = len(name.encode()[:max_bytes].decode("utf-8", "ignore"))
    while end and (_clings(name[end]) or name[end - 1] in _JOINERS):
        end -= 1
    return name[:end]


def _clings(letter: str) -> bool:
    """Accents, joiners, and the skin tones of emoji (Unicode Technical Standard 51)."""
    if letter in _JOINERS or "\U0001f3fb" <= letter <= "\U0001f3ff":
        return True
    return unicodedata.category(letter)[0] == "M"
