"""The service worker caches every file of the page, and nothing comes from another host."""

from __future__ import annotations

import json
import re
from pathlib import Path

from client.web import FOLDER
from service.page import Page
from tests.folded import fold

SCRIPTS = sorted((FOLDER / "js").rglob("*.js"))
#: Namespaces of standards; nothing is requested from there.
NAMESPACES = {"http://www.w3.org/2000/svg"}


def test_the_service_worker_keeps_every_part_of_the_page() -> None:
    """A file that it leaves out would be missing only without a network.

    A frame in a course page is never without: the page around it comes over the network too.
    """
    text = (FOLDER / "sw.js").read_text(encoding="utf-8")
    found = re.search(r"const PAGE_FILE = /(.*)/;", text)
    assert found
    pattern = re.compile(found[1].replace(r"\/", "/"))
    parts = [*SCRIPTS, *FOLDER.glob("css/*.css"), *FOLDER.rglob("words/**/*.json")]
    parts += [*FOLDER.glob("fonts/*.woff2"), FOLDER / "manifest.webmanifest"]
    needed = {path.relative_to(FOLDER).as_posix() for path in [*parts, FOLDER / "icons/icon.svg"]}
    needed = {name for name in needed if "embed" not in name}
    kept = {name for name in Page(FOLDER).names if pattern.fullmatch(f"/{name}")}
    assert kept == needed


def test_every_module_is_imported_from_where_it_is() -> None:
    for path in SCRIPTS:
        for name in re.findall(r'(?:from|import\()\s*"(\.[\w./-]+\.js)"', path.read_text("utf-8")):
            assert (path.parent / name).exists(), f"{path.name} imports {name}"


@fold(
    (
        "path",
        [
            *SCRIPTS,
            FOLDER / "index.html",
            FOLDER / "embed.html",
            FOLDER / "embed.js",
            *FOLDER.glob("css/*.css"),
        ],
    )
)
def test_nothing_comes_from_elsewhere_and_nothing_is_inline(path: Path) -> None:
    """The content security policy would refuse it in a browser; here it is found earlier."""
    text = path.read_text(encoding="utf-8")
    assert set(re.findall(r"https?://[^\s\"'`)]+", text)) <= NAMESPACES
    assert not re.search(r"\binnerHTML\b|\bouterHTML\b|insertAdjacentHTML|document\.write", text)
    if path.suffix == ".html":
        assert not re.search(r"\sstyle=|\son\w+=|<style|<script(?![^>]*\ssrc=)", text)


def test_the_manifest_names_icons_that_are_there() -> None:
    manifest = json.loads((FOLDER / "manifest.webmanifest").read_text(encoding="utf-8"))
    assert manifest["display"] == "standalone"
    sizes = set()
    for icon in manifest["icons"]:
        assert (FOLDER / icon["src"].lstrip("/")).exists(), icon
        sizes.add(icon["sizes"])
    # What browsers ask for before they offer to install (W3C Web Application Manifest; 192 and
    # 512 px are common practice).
    assert {"192x192", "512x512"} <= sizes


def test_the_page_and_its_service_worker_mean_the_same_store() -> None:
    names = {
        re.search(r'PACKS = "([\w-]+)"', (FOLDER / name).read_text(encoding="utf-8"))[1]  # type: ignore[index]  # Both have it.
        for name in ("sw.js", "js/api/offline-cache.js")
    }
    assert len(names) == 1


def test_the_frame_and_the_page_have_the_same_head() -> None:
    """Nothing puts them together from parts, so what both need is written in both."""
    page, frame = (
        re.findall(r"<(?:meta|link rel=\"(?:icon|stylesheet)\")[^>]*>", path.read_text("utf-8"))
        for path in (FOLDER / "index.html", FOLDER / "embed.html")
    )
    assert [one for one in page if 'name="description"' not in one] == frame
