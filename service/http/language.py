"""In which language the person who asks wants what is printed (RFC 9110, 12.5.4)."""

from __future__ import annotations

from flask import request

from worker.words.languages import DEFAULT, nearest


def asked_language() -> str:
    """The first of our languages that `Accept-Language` names; English where it names none.

    The page sends the language that it is shown in, other clients what they are set to. A region
    is its language's: who prefers `it-CH` to English is not given English.
    """
    named = (nearest(tag) for tag, weight in request.accept_languages if weight > 0)
    return next((language for language in named if language), DEFAULT)
