"""File names made from names that people have, safe on every system that unpacks them.

A name may be in any script. Characters that could make a path, a device name or a hidden file
are removed, and so are control characters: one that turns the reading direction can make one
file look like another. Joiners stay, since some letters and emoji fall apart without them.
"""

from __future__ import annotations

import re
import unicodedata

#: File systems allow 255 bytes of UTF-8; the rest is for a number and an extension.
MAX_BYTES = 160
#: Names that Windows reserves for devices, with any extension.
_DEVICES = re.compile(r"^(con|prn|aux|nul|com[\d¹²³]|lpt[\d¹²³])\s*(\.|$)", re.IGNORECASE)
_FORBIDDEN = frozenset('<>:"/\\|?*%;')
_JOINERS = "\u200c\u200d"


def safe_name(text: str, fallback: str, *, max_bytes: int = MAX_BYTES) -> str:
    """A text as a file name without an extension.

    Args:
        text: A text in any script.
        fallback: The name where nothing of the text is left.
        max_bytes: Length in UTF-8; characters are not cut in two, nor parted from their accents.
    """
    letters = unicodedata.normalize("NFC", text)
    kept = "".join(" " if _is_removed(letter) else letter for letter in letters)
    name = _shortened(" ".join(kept.split()), max_bytes).strip(" ." + _JOINERS)
    return fallback if not name or _DEVICES.match(name) else name


class UniqueNames:
    """Names for the files of one folder, all different even without case or composition."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def take(self, name: str, extension: str) -> str:
        """The name with its extension, and with a number where it is taken already."""
        for number in range(1, len(self._taken) + 2):
            wanted = f"{name}{extension}" if number == 1 else f"{name} ({number}){extension}"
            known = unicodedata.normalize("NFKC", wanted).casefold()
            if known not in self._taken:
                self._taken.add(known)
                return wanted
        raise AssertionError(name)  # One number more than names: one of them is free.


def _is_removed(letter: str) -> bool:
    if letter in _JOINERS:
        return False
    return letter in _FORBIDDEN or unicodedata.category(letter)[0] in "CZ"


def _shortened(name: str, max_bytes: int) -> str:
    """The start of a name that fits, cut where no letter loses its accents or joiners."""
    if len(name.encode()) <= max_bytes:
        return name
    end = len(name.encode()[:max_bytes].decode("utf-8", "ignore"))
    while end and (_extends_previous(name[end]) or name[end - 1] in _JOINERS):
        end -= 1
    return name[:end]


def _extends_previous(letter: str) -> bool:
    """Accents, joiners, and the skin tones of emoji (Unicode Technical Standard 51)."""
    if letter in _JOINERS or "\U0001f3fb" <= letter <= "\U0001f3ff":
        return True
    return unicodedata.category(letter)[0] == "M"
