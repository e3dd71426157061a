"""The service worker's list of the page's files: what is not on it is missing in a studio."""

from __future__ import annotations

import re

from client.web import FOLDER


def test_every_script_style_and_catalogue_is_kept() -> None:
    worker = (FOLDER / "sw.js").read_text(encoding="utf-8")
    scripts = {path.stem for path in (FOLDER / "js").glob("*.js")}
    others = {path.relative_to(FOLDER).as_posix() for path in FOLDER.glob("css/*.css")}
    others |= {path.relative_to(FOLDER).as_posix() for path in FOLDER.glob("words/*.json")}
    listed = re.search(r"\.\.\.\[(.*?)\]", worker, re.DOTALL)
    assert listed is not None
    assert set(re.findall(r'"([\w-]+)"', listed[1])) == scripts
    assert {name for name in others if f'"/{name}"' not in worker} == set()


def test_the_page_and_its_worker_mean_the_same_cache() -> None:
    names = [
        re.search(r'PACKS = "([\w-]+)"', (FOLDER / name).read_text(encoding="utf-8"))
        for name in ("sw.js", "js/keep.js")
    ]
    assert names[0] is not None
    assert names[1] is not None
    assert names[0][1] == names[1][1]
