"""Names as people type them on a phone: when two spellings are one name.

A roster is written with every accent; who joins types what the keyboard gives. Nobody is
kept at the door for that, as long as only one on the roster can be meant.
"""

from __future__ import annotations

import re
import unicodedata

#: Letters that Unicode does not take apart into a letter and its mark.
_PLAIN = str.maketrans({"ł": "l", "đ": "d", "ø": "o", "\u0131": "i", "ð": "d", "þ": "th"})
_PLAIN_PAIRS = str.maketrans({"æ": "ae", "œ": "oe"})
#: How German and the Nordic languages write them without the mark (common practice).
_SPELT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
_MARKS = re.compile("[\u0300-\u036f]")
_APOSTROPHES = re.compile("['\u2019]")


def same_name(name: str) -> str:
    """What two spellings of one name have in common: no case, no odd blanks, one form."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def alike(one: str, other: str) -> bool:
    """Whether two names differ only in accents, in signs, or in the order of their words."""
    return not _spellings(one).isdisjoint(_spellings(other))


def _spellings(name: str) -> set[tuple[str, ...]]:
    """The words without marks, in alphabetical order; once more with marks spelt out."""
    folded = same_name(name).translate(_PLAIN_PAIRS)
    plain = (folded.translate(_PLAIN), folded.translate(_SPELT).translate(_PLAIN))
    return {words for text in plain if (words := _words(text))}


def _words(text: str) -> tuple[str, ...]:
    # Marks of other scripts than these are vowels, and make another name.
    bare = _MARKS.sub("", unicodedata.normalize("NFKD", text))
    letters = _APOSTROPHES.sub("", unicodedata.normalize("NFC", bare))
    # Letters with their vowels, figures, and the pictures that someone may go by.
    kept = (one if unicodedata.category(one)[0] in "LMNS" else " " for one in letters)
    return tuple(sorted("".join(kept).split()))
