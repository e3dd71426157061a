"""The option for the language of what is printed, of every command that has something printed."""

from __future__ import annotations

from typing import Any

import click


class Language(click.ParamType[str]):
    """A language that there are catalogues for, or a region of one: `it`, `it-CH`."""

    name = "language"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The language's tag."""
        from worker.words.languages import LANGUAGES, nearest

        found = nearest(str(value))
        if found is None:
            self.fail(f"'{value}' is none of {', '.join(LANGUAGES)}.", param, ctx)
        return found


LANGUAGE_OPTION = click.option(
    "--language",
    type=Language(),
    metavar="TAG",
    help="Language of what is printed: a tag, as it (default: en).",
)
