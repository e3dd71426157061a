"""The texts of one language, with numbers, units and plurals as that language writes them."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, Final, Literal

from babel import Locale
from babel.lists import format_list
from babel.numbers import format_decimal
from babel.units import format_unit

from worker.words.languages import DEFAULT, FOLDER

Unit = Literal["mm", "in"]
#: A text, or its plural forms.
Text = str | Mapping[str, str]
#: The forms of a plural, as Unicode CLDR names them.
PLURAL_FORMS: Final = frozenset({"zero", "one", "two", "few", "many", "other"})
#: CLDR's names of our units.
_UNITS: Mapping[Unit, str] = {"mm": "length-millimeter", "in": "length-inch"}
_PLACE = re.compile(r"\{(\w+)\}")
#: Decimals of a number among the values of a text, at most; as on the page.
_DECIMALS = 2


class Words:
    """Texts of one language by key: `words("sheet.page", page=4, pages=9)`.

    A key is dotted: the group, then the text's name. A text that counts has plural forms, and
    `count` among the values chooses one. A test reads every call in the source: its key is in
    the catalogues, and its values are those that the text names.
    """

    def __init__(self, language: str, texts: Mapping[str, Text]) -> None:
        self.language = language
        self._texts = texts
        self._locale = Locale.parse(language, sep="-")

    def __call__(self, key: str, /, *, count: int = 0, **values: object) -> str:
        """The text of a key, with its values put in.

        Args:
            key: Of the text.
            count: What a text with plural forms counts.
            values: By the names in the text. Numbers are written as the language does, with
                two decimals at most; one that needs others is written by `number` before.

        Raises:
            KeyError: There is no such text, or a value of it is missing.
        """
        text = self._texts[key]
        if not isinstance(text, str):
            text = text.get(self._locale.plural_form(count), text["other"])
        values["count"] = count
        return _PLACE.sub(lambda place: self._shown(values[place[1]]), text)

    def number(self, value: float, decimals: int = 0, *, least: int | None = None) -> str:
        """A number as the language writes it, without groups of thousands.

        Args:
            value: The number.
            decimals: How many it is rounded to.
            least: How many are written even where they are 0; None: all of them.
        """
        pattern = _pattern(decimals, decimals if least is None else least)
        return str(format_decimal(_rounded(value, decimals), pattern, self._locale))

    def measure(self, value: float, unit: Unit, decimals: int = 0, *, least: int = 0) -> str:
        """A number and its unit, which no line's end parts: `12.5 mm`, `12,5 mm`.

        Args:
            value: The number.
            unit: Its unit.
            decimals: How many it is rounded to.
            least: How many are written even where they are 0.
        """
        written = format_unit(
            _rounded(value, decimals),
            _UNITS[unit],
            length="short",
            format=_pattern(decimals, least),
            locale=self._locale,
        )
        return written.replace(" ", "\u00a0")

    def unit(self, unit: Unit) -> str:
        """The sign of a unit alone."""
        return self.measure(1, unit).replace(self.number(1), "").strip()

    def listed(self, items: Iterable[str]) -> str:
        """Things in a row, with the language's word for "and" before the last."""
        return format_list(list(items), style="standard", locale=self._locale)

    def _shown(self, value: object) -> str:
        if isinstance(value, int | float):
            return self.number(value, _DECIMALS, least=0)
        return str(value)


@cache
def words_for(language: str) -> Words:
    """The texts of a language, read once; what it lacks is in English.

    Args:
        language: One of `worker.words.languages.LANGUAGES`.
    """
    return Words(language, catalogue(FOLDER / DEFAULT) | catalogue(FOLDER / language))


def catalogue(folder: Path) -> dict[str, Text]:
    """All texts of a language's folder, by their dotted keys."""
    return {
        key: text
        for path in sorted(folder.glob("*.json"))
        for key, text in _flat(json.loads(path.read_text(encoding="utf-8")))
    }


def _flat(texts: Mapping[str, Any], above: str = "") -> Iterator[tuple[str, Text]]:
    for name, below in texts.items():
        if isinstance(below, dict) and not set(below) <= PLURAL_FORMS:
            yield from _flat(below, f"{above}{name}.")
        else:
            yield above + name, below


def _rounded(value: float, decimals: int) -> Decimal:
    """As Python rounds, which is from the float's own value."""
    return Decimal(f"{value:.{decimals}f}")


@lru_cache(maxsize=64)
def _pattern(decimals: int, least: int) -> str:
    """CLDR's pattern of a number: `0.0#`."""
    places = "0" * least + "#" * (decimals - least)
    return f"0.{places}" if places else "0"
