"""Which languages there are: those that have a folder of catalogues."""

from __future__ import annotations

from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent
#: The language in which a text is written first, and which is printed where none is asked for.
DEFAULT: Final = "en"

#: Tags of all languages, the default first.
LANGUAGES: Final[tuple[str, ...]] = (
    DEFAULT,
    *sorted({path.parent.name for path in FOLDER.glob("*/*.json")} - {DEFAULT}),
)


def nearest(wanted: str) -> str | None:
    """The language of a tag, or of what it begins with: `it` for `it-CH`; None: there is none."""
    parts = wanted.replace("_", "-").lower().split("-")
    known = {language.lower(): language for language in LANGUAGES}
    tags = ("-".join(parts[:length]) for length in range(len(parts), 0, -1))
    return next((known[tag] for tag in tags if tag in known), None)
