"""In which language the person who asks wants what is printed (RFC 9110, 12.5.4)."""

from __future__ import annotations

from flask import request

from worker.words.languages import DEFAULT, LANGUAGES


def asked_language() -> str:
    """The best of our languages for `Accept-Language`; English where there is none.

    The page sends the language that it is shown in, and other clients what they are set to.
    """
    return request.accept_languages.best_match(LANGUAGES, DEFAULT) or DEFAULT
