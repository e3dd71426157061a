"""The catalogues of print are whole in every language, and asked for what they have."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from babel import Locale

import service
import worker
from tests.folded import fold
from worker.pdf.fonts import BOLD, DISPLAY, TEXT, face
from worker.words.catalogue import PLURAL_FORMS, Text, catalogue, words_for
from worker.words.languages import DEFAULT, FOLDER, LANGUAGES

CATALOGUES = {language: catalogue(FOLDER / language) for language in LANGUAGES}
ENGLISH = CATALOGUES[DEFAULT]
SOURCES = sorted(
    path
    for folder in (Path(worker.__file__).parent, Path(service.__file__).parent)
    for path in folder.rglob("*.py")
    # There, what is called words cuts a text up.
    if path.parent.name != "pdf"
)
#: More than are ever counted in a pack; CLDR has another form for millions.
COUNTED = range(1000)


def forms(text: Text) -> list[str]:
    return [text] if isinstance(text, str) else list(text.values())


def places(text: Text) -> set[str]:
    """The values that a text names."""
    return {name for form in forms(text) for name in re.findall(r"\{(\w+)\}", form)}


@dataclass(frozen=True)
class Call:
    """A call for a text in the source."""

    where: str
    key: re.Pattern[str]
    values: frozenset[str]
    whole: bool

    @property
    def keys(self) -> list[str]:
        return [key for key in ENGLISH if self.key.fullmatch(key)]


def keys_of(argument: ast.expr) -> Iterator[re.Pattern[str]]:
    """The keys that an argument may be; none for what is not written out in the call."""
    if isinstance(argument, ast.Constant):
        yield re.compile(re.escape(str(argument.value)))
    elif isinstance(argument, ast.IfExp):
        yield from keys_of(argument.body)
        yield from keys_of(argument.orelse)
    elif isinstance(argument, ast.JoinedStr):
        parts = (
            re.escape(str(part.value)) if isinstance(part, ast.Constant) else r"[\w-]+"
            for part in argument.values
        )
        yield re.compile("".join(parts))


def finds_texts(function: ast.expr) -> bool:
    """Whether what is called is `words`, an attribute of that name, or `words_for(...)`."""
    if isinstance(function, ast.Call):
        return isinstance(function.func, ast.Name) and function.func.id == "words_for"
    name = function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")
    return name == "words"


def calls() -> Iterator[Call]:
    for path in SOURCES:
        source = path.read_text(encoding="utf-8")
        if "words" not in source:
            continue
        for node in ast.walk(ast.parse(source)):
            if not isinstance(node, ast.Call):
                continue
            if not finds_texts(node.func):
                continue
            where = f"{path.name}:{node.lineno}"
            keys = list(keys_of(node.args[0]))
            assert keys, f"{where}: the key is not written in the call"
            named = frozenset(each.arg for each in node.keywords if each.arg)
            for key in keys:
                yield Call(where, key, named, all(each.arg for each in node.keywords))


CALLS = list(calls())


def test_every_text_that_is_asked_for_is_there_with_its_values() -> None:
    assert [call.where for call in CALLS if not call.keys] == []
    wrong = {
        (call.where, key)
        for call in CALLS
        for key in call.keys
        if call.whole and call.values - {"count"} != places(ENGLISH[key]) - {"count"}
    }
    assert wrong == set()


def test_a_text_that_counts_is_given_a_count() -> None:
    counting = {key for key, text in ENGLISH.items() if not isinstance(text, str)}
    asked = {(call.where, key) for call in CALLS for key in call.keys if key in counting}
    given = {
        (call.where, key)
        for call in CALLS
        for key in call.keys
        if "count" in call.values or not call.whole
    }
    assert asked - given == set()


def test_every_text_is_asked_for() -> None:
    asked = {key for call in CALLS for key in call.keys}
    assert set(ENGLISH) - asked == set()


@fold(("language", LANGUAGES))
def test_a_language_has_every_text_whole(language: str) -> None:
    texts = CATALOGUES[language]
    assert set(texts) == set(ENGLISH)
    empty = {key for key, text in texts.items() if not all(form.strip() for form in forms(text))}
    assert empty == set()
    other = {key for key, text in texts.items() if places(text) != places(ENGLISH[key])}
    assert other == set()
    # Two stars begin and end a phrase in bold.
    assert {k for k, t in texts.items() if any(form.count("**") % 2 for form in forms(t))} == set()


@fold(("language", LANGUAGES))
def test_a_text_that_counts_has_the_forms_of_its_language(language: str) -> None:
    """The forms are those that Unicode CLDR has for whole numbers."""
    plural = Locale.parse(language, sep="-").plural_form
    needed = {plural(number) for number in COUNTED} | {"other"}
    assert needed <= PLURAL_FORMS
    found = {key: set(text) for key, text in CATALOGUES[language].items() if isinstance(text, dict)}
    assert {key: kinds for key, kinds in found.items() if not needed <= kinds} == {}


@pytest.mark.parametrize("language", LANGUAGES)
def test_texts_use_the_signs_of_print(language: str) -> None:
    """Apostrophes and ellipses as they are set; straight ones are typed."""
    typed = {
        key
        for key, text in CATALOGUES[language].items()
        for form in forms(text)
        if re.search(r"'|\.\.\.|\"", form)
    }
    assert typed == set()


@fold(("language", LANGUAGES), ("wanted", [TEXT, BOLD, DISPLAY]))
def test_our_own_faces_have_every_sign_of_the_texts(language: str, wanted: str) -> None:
    signs = {sign for text in CATALOGUES[language].values() for sign in "".join(forms(text))}
    assert {sign for sign in signs if ord(sign) not in face(wanted).covers} == set()


def test_numbers_and_units_are_written_as_cldr_has_them() -> None:
    """Unicode CLDR: English has a point, Italian a comma; no line's end parts a unit."""
    english, italian = words_for("en"), words_for("it")
    assert (english.number(12.5, 1), italian.number(12.5, 1)) == ("12.5", "12,5")
    assert (english.number(12, 1), italian.number(12, 1, least=0)) == ("12.0", "12")
    assert italian.number(1234.5, 1) == "1234,5"
    assert english.measure(721.1102, "mm", 1) == "721.1\u00a0mm"
    assert italian.measure(721.1102, "mm", 1) == "721,1\u00a0mm"
    assert english.measure(4, "in", 2) == "4\u00a0in"
    assert (english.unit("in"), italian.unit("mm")) == ("in", "mm")
    assert italian.listed(["a", "b", "c"]) == "a, b e c"


def test_numbers_among_the_values_follow_the_language() -> None:
    assert words_for("it")("sheet.page", page=4, pages=9) == "pagina 4 di 9"
    assert words_for("en")("sheet.page", page=4, pages=9) == "page 4 of 9"
