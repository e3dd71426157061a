"""A screen asks for the texts and style sheets that it needs, and the page for its own."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path

from client.web import FOLDER
from tests.folded import fold
from tests.unit.client.web.test_modules import FIRST, JS, SCREENS, Screen, loaded_by
from tests.unit.client.web.test_words import code

#: The subject of texts that is always there, and the style sheets that stand in the page.
PAGE = "page"
STANDING = frozenset(
    re.findall(
        r'rel="stylesheet" href="/css/([\w-]+).css"', (FOLDER / "index.html").read_text("utf-8")
    )
)
#: Which subject each section of texts is in.
SUBJECTS = {
    section: path.stem
    for path in (FOLDER / "words" / "en").glob("*.json")
    for section in json.loads(path.read_text("utf-8"))
}


def _styled() -> dict[str, set[str]]:
    """The style sheets that each class is in."""
    found: dict[str, set[str]] = {}
    for path in (FOLDER / "css").glob("*.css"):
        text = re.sub(r"/\*.*?\*/", "", path.read_text("utf-8"), flags=re.DOTALL)
        for selector in re.findall(r"([^{}]*)\{", text):
            for name in re.findall(r"\.([a-zA-Z][\w-]*)", selector):
                found.setdefault(name, set()).add(path.stem)
    return found


STYLED = _styled()


def sections(modules: Iterable[Path]) -> set[str]:
    """Sections of texts that modules name."""
    text = "\n".join(code(path) for path in modules)
    return set(re.findall(r"[\"'`]([a-z][\w-]*)\.[\w$-]", text)) & set(SUBJECTS)


def classes(modules: Iterable[Path]) -> set[str]:
    """Classes of elements that modules name, where they make them."""
    text = "\n".join(code(path) for path in modules)
    found = re.findall(r"class: (?:[^\"`,}]*\? )?[\"`]([^\"`]*)[\"`](?: : \"([^\"]*)\")?", text)
    found += [(name, "") for name in re.findall(r'classList\.\w+\("([\w-]+)"', text)]
    return {name for pair in found for one in pair for name in re.split(r"[^\w-]+", one)} & set(
        STYLED
    )


def asked_late(modules: Iterable[Path]) -> set[str]:
    """Style sheets that modules ask for when they are first needed."""
    text = "\n".join(code(path) for path in modules)
    return set(re.findall(r'needStyles\(\["([\w-]+)"\]\)', text))


def test_the_first_visit_has_all_that_it_shows() -> None:
    assert {SUBJECTS[section] for section in sections(FIRST)} == {PAGE}
    assert {name for name in classes(FIRST) if not STYLED[name] & STANDING} == set()


@fold(("screen", SCREENS))
def test_a_screen_asks_for_the_texts_that_it_shows(screen: Screen) -> None:
    own = loaded_by(JS / f"{screen.module}.js") - FIRST
    assert {SUBJECTS[section] for section in sections(own)} - {PAGE} == screen.subjects


@fold(("screen", SCREENS))
def test_a_screen_asks_for_the_styles_that_it_wears(screen: Screen) -> None:
    own = loaded_by(JS / f"{screen.module}.js") - FIRST
    worn, late = classes(own), asked_late(own)
    there = screen.styles | late | STANDING
    assert {name: STYLED[name] for name in worn if not STYLED[name] & there} == {}
    # None is loaded for nothing.
    assert {
        one for one in screen.styles | late if not any(one in STYLED[name] for name in worn)
    } == set()


def test_every_style_sheet_has_its_place_in_the_cascade() -> None:
    text = (JS / "lib" / "browser" / "style-sheets.js").read_text("utf-8")
    found = re.search(r"ORDER = \[(.*?)\]", text, re.DOTALL)
    assert found
    placed = re.findall(r'"([\w-]+)"', found[1])
    assert sorted([*placed, *STANDING]) == sorted(path.stem for path in FOLDER.glob("css/*.css"))
    late = asked_late(JS.rglob("*.js"))
    assert late | {style for screen in SCREENS for style in screen.styles} == set(placed)
    framed = (FOLDER / "embed.html").read_text("utf-8")
    assert set(re.findall(r'href="/css/([\w-]+).css"', framed)) == STANDING
