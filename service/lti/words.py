"""Texts of the pages of launches, in the person's language, from the catalogues of the page.

These pages are documents of the service, which a frame shows before any script runs; so the
service reads their texts itself. Scripts of the page read theirs in
`client/web/js/lib/texts/words.js`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

from flask import request

from service.page import Page
from worker.errors import NotFound

_SECTION, _USUAL = "launch", "en"


@dataclass(frozen=True, kw_only=True)
class Words:
    """The texts in one language, by keys such as `launch.open`."""

    language: str
    texts: dict[str, Any]

    def __call__(self, key: str, **values: object) -> str:
        """The text of a key, with values for its places; `count` chooses the plural form."""
        text = self.texts[key.removeprefix(f"{_SECTION}.")]
        if isinstance(text, dict):
            text = text["one" if values.get("count") == 1 else "other"]
        return str(text).format(**values)

    def one_of(self, key: str, name: str) -> str:
        """The text of this name among those of a key."""
        return str(self.texts[key.removeprefix(f"{_SECTION}.")][name])


_PATHS: Final = f"words/{{}}/{_SECTION}.json"


def words_for(files: Page | None, locale: object = "") -> Words:
    """The texts in the language of a locale, else in one that the browser asks for.

    Args:
        files: The page's files.
        locale: A language tag (BCP 47), as a launch may have it; anything else counts as none.

    Raises:
        NotFound: This service has no page.
    """
    if files is None:
        raise NotFound("This service has no page to come to: RICALCO_PAGE_DIR is empty.")
    folders = {name.split("/")[1] for name in files.names if name.startswith("words/")}
    known = sorted(one for one in folders if _PATHS.format(one) in files.names)
    # What a browser asks for comes in the order in which it is wanted.
    wanted = [locale if isinstance(locale, str) else "", *request.accept_languages.values()]
    spoken = [one.replace("_", "-").partition("-")[0].lower() for one in wanted]
    language = next((one for one in spoken if one in known), _USUAL)
    content = files.file(_PATHS.format(language)).content
    return Words(language=language, texts=json.loads(content)[_SECTION])
