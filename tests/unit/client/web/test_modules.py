"""The page's modules import each other in one direction, and only what is exported."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import TopologicalSorter
from pathlib import Path

from client.web import FOLDER
from tests.folded import fold

JS = FOLDER / "js"
SCRIPTS = sorted(JS.rglob("*.js"))
#: Tests that reckon with the page's own functions (`m.name`).
RECKONED = Path(__file__).resolve().parents[3] / "integration" / "page"
#: Folders of `js` in the order of imports: each imports from itself and from those before it.
LAYERS = (
    "lti",
    "lib",
    "state",
    "api",
    "controls",
    "draw",
    "printers",
    "shelf",
    "studio",
    "steps",
    "squares",
    "classes",
    "people",
    "app.js",
    "embed",
)
#: A screen in `lib/browser/routes.js`.
_SCREEN = re.compile(r'module: "([\w/-]+)", words: \[(.*?)\], styles: \[(.*?)\]')
_STATIC = re.compile(r'^import\s+(?P<names>[^"]*?)\s+from\s+"(?P<path>[^"]+)";', re.MULTILINE)
_DYNAMIC = re.compile(r"(?:\{(?P<names>[^{}]*)\}\s*=\s*await\s+)?\bimport\((?P<path>[^)]+)\)")
_EXPORTED = re.compile(r"^export\s+(?:async\s+)?(?:const|let|function|class)\s+(\w+)", re.MULTILINE)


@dataclass(frozen=True)
class Screen:
    """A screen: its module, and the subjects and style sheets that it asks for."""

    module: str
    subjects: frozenset[str]
    styles: frozenset[str]


def _screens() -> tuple[Screen, ...]:
    text = (JS / "lib" / "browser" / "routes.js").read_text(encoding="utf-8")
    parts = re.compile(r'"([\w-]+)"')
    return tuple(
        Screen(
            module=module,
            subjects=frozenset(parts.findall(words)),
            styles=frozenset(parts.findall(styles)),
        )
        for module, words, styles in _SCREEN.findall(text)
    )


SCREENS = _screens()


def imports(path: Path, *, late: bool = True) -> Iterator[tuple[Path, set[str]]]:
    """Each module that a module imports, and the names that it takes from it.

    A namespace (`import * as api`) counts with the members that are used of it. Without `late`,
    only what it imports at once.
    """
    text = path.read_text(encoding="utf-8")
    found = [*_STATIC.finditer(text), *(_DYNAMIC.finditer(text) if late else ())]
    for one in found:
        target = one["path"].strip('"')
        if not target.startswith("."):
            continue
        names = one["names"] or ""
        if namespace := re.fullmatch(r"\*\s+as\s+(\w+)", names):
            taken = set(re.findall(rf"(?<![\w.]){namespace[1]}\.(\w+)", text))
        else:
            taken = {name.split(" as ")[0].strip() for name in names.strip("{} \n").split(",")}
        yield (path.parent / target).resolve(), taken - {""}


def loaded_by(*modules: Path, late: bool = True) -> set[Path]:
    """Modules with all that they import, at once or, if `late`, when it is first needed."""
    found: set[Path] = set()
    waiting = list(modules)
    while waiting:
        module = waiting.pop()
        if module not in found:
            found.add(module)
            waiting += [target for target, _ in imports(module, late=late)]
    return found


#: What the first visit loads.
FIRST = frozenset(loaded_by(JS / "app.js", JS / "steps" / "photo.js"))


def layer(path: Path) -> int:
    """The index of a module's folder in `LAYERS`."""
    return LAYERS.index(path.relative_to(JS).parts[0])


def screens() -> set[str]:
    """Names of the modules that `app.js` loads, as `lib/browser/routes.js` has them."""
    return {screen.module for screen in SCREENS}


@fold(("path", SCRIPTS))
def test_modules_import_from_their_own_layer_or_from_one_before_it(path: Path) -> None:
    for target, _ in imports(path):
        assert layer(target) <= layer(path), f"{path.name} imports {target.relative_to(JS)}"


def test_no_module_imports_itself_through_others() -> None:
    graph = {path: [target for target, _ in imports(path)] for path in SCRIPTS}
    # Raises CycleError with the modules of a circle.
    order = list(TopologicalSorter(graph).static_order())
    assert set(order) == set(SCRIPTS)


@fold(("path", SCRIPTS))
def test_what_is_imported_is_exported(path: Path) -> None:
    """A browser would refuse to load such a screen, and only when somebody opens it."""
    for target, names in imports(path):
        exported = set(_EXPORTED.findall(target.read_text(encoding="utf-8")))
        assert names <= exported, f"{path.name} from {target.name}: {names - exported}"


def test_what_is_exported_is_imported() -> None:
    """By another module, or by a test that reckons with it in a browser; else it is nobody's."""
    taken = {path: {"mount"} for path in SCRIPTS}
    for path in SCRIPTS:
        for target, names in imports(path):
            # Where several are loaded at once, names stand apart from their import.
            taken[target] |= names or set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    reckoned = {
        name
        for path in RECKONED.rglob("test_sums.py")
        for name in re.findall(r"\bm\.(\w+)", path.read_text(encoding="utf-8"))
    }
    left = {
        f"{path.relative_to(JS)}: {name}"
        for path in SCRIPTS
        for name in _EXPORTED.findall(path.read_text(encoding="utf-8"))
        if name not in taken[path] | reckoned
    }
    assert left == set()


@fold(("path", SCRIPTS))
def test_what_is_imported_is_used(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    for found in _STATIC.finditer(text):
        for name in re.findall(r"(\w+)(?=[\s},]*(?:,|$))", found["names"]):
            assert len(re.findall(rf"\b{name}\b", text)) > 1, name


def test_every_screen_is_there_and_can_be_shown() -> None:
    found = screens()
    assert len(found) > len(LAYERS)
    for name in found:
        text = (JS / f"{name}.js").read_text(encoding="utf-8")
        assert "mount" in _EXPORTED.findall(text), name


def test_files_that_are_named_by_their_address_are_there() -> None:
    for path in [*SCRIPTS, FOLDER / "sw.js", FOLDER / "index.html", FOLDER / "embed.html"]:
        for name in re.findall(r'"/(js/[\w/.-]+\.js)"', path.read_text(encoding="utf-8")):
            assert (FOLDER / name).exists(), f"{path.name} names {name}"


def test_every_module_is_loaded_by_something() -> None:
    """The folder has no module that no screen needs."""
    loaded = {target for path in SCRIPTS for target, _ in imports(path)}
    loaded |= {JS / f"{name}.js" for name in screens()}
    loaded |= {JS / "app.js", JS / "embed" / "start.js"}
    loaded |= {JS / "lib" / "browser" / "photo-decode-worker.js"}
    # `service.lti.pages` names these two.
    loaded |= {JS / "lti" / "login.js", JS / "lti" / "launch.js"}
    assert loaded == set(SCRIPTS)
