"""Whether two spellings are the same name.

A roster is written with accents, and students type their names on phones without them. They can
join all the same, as long as only one name on the roster is meant.
"""

from __future__ import annotations

import re
import unicodedata

#: Letters that Unicode does not decompose into a letter and its mark.
_PLAIN = str.maketrans({"ł": "l", "đ": "d", "ø": "o", "\u0131": "i", "ð": "d", "þ": "th"})
_PLAIN_PAIRS = str.maketrans({"æ": "ae", "œ": "oe"})
#: Spellings without the mark in German and the Nordic languages (common practice).
_SPELT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
_MARKS = re.compile("[\u0300-\u036f]")
_APOSTROPHES = re.compile("['\u2019]")


def same_name(name: str) -> str:
    """The name in a form for comparison: without case and extra blanks, Unicode normalised."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def alike(one: str, other: str) -> bool:
    """Whether two names differ only in accents, punctuation or the order of their words."""
    return not _spellings(one).isdisjoint(_spellings(other))


def _spellings(name: str) -> set[tuple[str, ...]]:
    """The words in alphabetical order, once without marks and once with marks spelt out."""
    folded = same_name(name).translate(_PLAIN_PAIRS)
    plain = (folded.translate(_PLAIN), folded.translate(_SPELT).translate(_PLAIN))
    return {words for text in plain if (words := _words(text))}


def _words(text: str) -> tuple[str, ...]:
    # In other scripts than these, marks are vowels and distinguish names.
    bare = _MARKS.sub("", unicodedata.normalize("NFKD", text))
    letters = _APOSTROPHES.sub("", unicodedata.normalize("NFC", bare))
    # Letters with their vowels, digits and symbols, since a name may contain these.
    kept = (one if unicodedata.category(one)[0] in "LMNS" else " " for one in letters)
    return tuple(sorted("".join(kept).split()))
