"""The catalogues have the same keys in every language, and every key that the page uses."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from client.web import FOLDER
from service import lti
from tests.folded import fold
from worker import errors
from worker.words import languages

#: What is printed speaks the same languages as the page.
LANGUAGES = languages.LANGUAGES
#: Forms of a plural, as Unicode CLDR names them.
FORMS = {"zero", "one", "two", "few", "many", "other"}
#: The page's scripts, and what the service writes of it.
SCRIPTS = sorted((FOLDER / "js").rglob("*.js")) + sorted(Path(lti.__path__[0]).glob("*.py"))


def flat(texts: dict[str, Any], above: str = "") -> Iterator[tuple[str, Any]]:
    """Dotted keys, with their text or their plural forms."""
    for name, value in texts.items():
        if isinstance(value, dict) and not set(value) <= FORMS:
            yield from flat(value, f"{above}{name}.")
        else:
            yield above + name, value


def catalogue(language: str) -> dict[str, Any]:
    """All texts of a language; no section is in two of its files."""
    merged: dict[str, Any] = {}
    for path in sorted((FOLDER / "words" / language).glob("*.json")):
        part = json.loads(path.read_text(encoding="utf-8"))
        assert not set(part) & set(merged), path.name
        merged |= part
    return dict(flat(merged))


WORDS = {language: catalogue(language) for language in LANGUAGES}


def forms(text: Any) -> list[str]:
    """The text in all its forms."""
    return list(text.values()) if isinstance(text, dict) else [text]


def places(text: Any) -> set[str]:
    """Names of the placeholders of a text."""
    return {name for form in forms(text) for name in re.findall(r"\{(\w+)\}", form)}


def code(path: Path) -> str:
    """A script without its comments."""
    # Only at the start of a line: `image/*` in a text begins no comment.
    text = re.sub(r"(?ms)^\s*/\*.*?\*/", "", path.read_text(encoding="utf-8"))
    return re.sub(r"(?m)(^|\s)//.*$", "", text)


def asked() -> tuple[dict[str, str], dict[str, str]]:
    """Keys, and beginnings of keys, in the scripts, with the file of each."""
    sections = {key.split(".")[0] for key in WORDS["en"]}
    keys, beginnings = {}, {}
    for path in SCRIPTS:
        text = code(path)
        for key in re.findall(r"[\"'`]([a-z][\w-]*(?:\.[\w-]+)+)[\"'`]", text):
            if key.split(".")[0] in sections and not key.endswith((".js", ".pdf", ".png", ".html")):
                keys[key] = path.name
        for beginning in re.findall(r"`([a-z][\w-]*\.(?:[\w-]+\.)*(?:[\w-]+-)?)\$\{", text):
            if beginning.split(".")[0] in sections:
                beginnings[beginning] = path.name
    return keys, beginnings


def test_page_and_paper_have_the_same_languages() -> None:
    folders = {path.name for path in (FOLDER / "words").iterdir() if path.is_dir()}
    assert folders == set(LANGUAGES)


def test_languages_have_the_same_keys() -> None:
    missing = {language: set(WORDS["en"]) ^ set(WORDS[language]) for language in LANGUAGES}
    assert missing == {language: set() for language in LANGUAGES}


@fold(("key", sorted(WORDS["en"])))
def test_a_text_is_whole_in_every_language(key: str) -> None:
    texts = [WORDS[language].get(key, "") for language in LANGUAGES]
    assert all(form.strip() for text in texts for form in forms(text))
    assert len({frozenset(places(text)) for text in texts}) == 1
    assert len({isinstance(text, dict) for text in texts}) == 1
    # All our languages have these two for small whole numbers (Unicode CLDR).
    assert all(not isinstance(text, dict) or {"one", "other"} <= set(text) for text in texts)


def test_every_key_that_is_asked_for_is_there() -> None:
    keys, beginnings = asked()
    known = set(WORDS["en"])
    sections = {key.rsplit(".", depth)[0] for key in known for depth in (1, 2)}
    assert {key: name for key, name in keys.items() if key not in known | sections} == {}
    begun = {one for one in beginnings if not any(key.startswith(one) for key in known)}
    assert begun == set()


def test_every_text_is_asked_for() -> None:
    keys, beginnings = asked()
    unused = {
        key
        for key in WORDS["en"]
        if key not in keys and not any(key.startswith(one) for one in (*beginnings, *keys))
    }
    assert unused == set()


def calls(text: str) -> Iterator[tuple[str, set[str]]]:
    """Keys that are used with an object of values, and the names of the values."""
    for found in re.finditer(r"\bt\(\s*\"([\w.-]+)\",\s*\{", text):
        depth, at = 1, found.end()
        while depth:
            depth += {"{": 1, "}": -1}.get(text[at], 0)
            at += 1
        inner = re.sub(r"[\[({][^\[\](){}]*[\])}]", "", text[found.end() : at - 1])
        if "..." not in inner:
            yield found[1], set(re.findall(r"(?:^|,)\s*(\w+)", inner))


def test_texts_get_the_values_that_they_name() -> None:
    short = {
        (path.name, key): places(WORDS["en"].get(key, "")) - names
        for path in SCRIPTS
        for key, names in calls(code(path))
        if places(WORDS["en"].get(key, "")) - names
    }
    assert short == {}


def test_every_error_that_the_page_can_meet_has_its_words() -> None:
    """Refusals are shown in the person's language, not in the service's."""
    families = (errors.PhotoError, errors.SpecError)
    codes = {kind.code for family in families for kind in family.__subclasses__()}
    # The page sends no sizes as text and no names of its own making.
    codes -= {"size-unreadable", "sheet-format-unknown"}
    codes |= {"busy", "not-found", "storage-full", "ledger-unavailable", "internal-error"}
    assert len(codes) > 12
    assert {code for code in codes if f"problem.{code}" not in WORDS["en"]} == set()
