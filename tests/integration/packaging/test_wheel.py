"""The wheels alone, in a plain environment and another folder, do what the checkout does.

What is forgotten in the package data (fonts, migrations) or in the dependencies is found
only so. It asks the package registry, and takes about a minute.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
import venv
import zipfile
from email import message_from_bytes
from email.message import Message
from pathlib import Path
from typing import NamedTuple

import pytest
import requests
from PIL import Image
from skimage import data

from client.web import FOLDER
from service.page import Page
from tests.servers.ports import free_port

ROOT = Path(__file__).parents[3]
pytestmark = pytest.mark.slow
#: Somebody else's program; nothing listens on port 9, the old "discard" (RFC 863).
SHOP = """
from ricalco_client import Ricalco, ServiceUnreachable

service = Ricalco("http://127.0.0.1:9")
try:
    service.healthy()
except ServiceUnreachable as error:
    print(error.code)
"""


def _run(*command: object, cwd: Path) -> str:
    ended = subprocess.run(
        list(map(str, command)),
        cwd=cwd,
        env=_environment(cwd),
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ended.returncode == 0, ended.stdout + ended.stderr
    return ended.stdout


def _environment(folder: Path) -> dict[str, str]:
    """No settings, no path into the checkout."""
    left_out = ("RICALCO_", "PYTHONPATH", "VIRTUAL_ENV")
    kept = {name: value for name, value in os.environ.items() if not name.startswith(left_out)}
    return {**kept, "RICALCO_DATA_DIR": str(folder / "data")}


class Wheels(NamedTuple):
    """The two distributions of a checkout."""

    library: Path
    application: Path


@pytest.fixture(scope="module")
def wheels(tmp_path_factory: pytest.TempPathFactory) -> Wheels:
    """Built from what git knows and what it will know, with setuptools from the registry."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    # A build writes into its source; so a copy is built and the checkout stays as it is.
    _copy_tracked(source)
    for project in (source / "client", source):
        _run(sys.executable, "-m", "build", "--wheel", "--outdir", folder, project, cwd=folder)
    (library,) = folder.glob("ricalco_client-*.whl")
    (application,) = folder.glob("ricalco-*.whl")
    return Wheels(library, application)


def _copy_tracked(target: Path) -> None:
    listed = _run("git", "ls-files", "-co", "--exclude-standard", "-z", cwd=ROOT)
    for name in filter(None, listed.split("\0")):
        source, copy = ROOT / name, target / name
        if source.is_file():
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(source.read_bytes())


@pytest.fixture(scope="module")
def installed(wheels: Wheels, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the programs of a plain environment that holds the two wheels alone."""
    folder = tmp_path_factory.mktemp("plain")
    return _install(folder / "env", *wheels).parent


def _install(environment: Path, *wheels: Path) -> Path:
    """The Python of a new environment with these wheels and what they ask for, and no pip.

    Pip runs outside of it, and compiles nothing: most of what is installed is never loaded here.
    """
    venv.create(environment)
    python = environment / "bin" / "python"
    words = ("--python", python, "install", "-qq", "--no-compile")
    _run(sys.executable, "-m", "pip", *words, *wheels, cwd=environment.parent)
    return python


def test_the_wheel_carries_code_types_licence_and_data(wheels: Wheels) -> None:
    names = zipfile.ZipFile(wheels.application).namelist()
    assert not [name for name in names if name.startswith(("tests", "deploy"))]
    for part in ("client/py.typed", "worker/py.typed", "service/py.typed"):
        assert part in names
    assert [name for name in names if name.endswith("licenses/LICENSE")]
    assert [name for name in names if name.endswith(".ttf")]
    assert [name for name in names if "migrations/versions" in name]
    assert {f"client/web/{name}" for name in Page(FOLDER).names} <= set(names)


def test_the_library_is_published_once_and_alone(wheels: Wheels) -> None:
    application = zipfile.ZipFile(wheels.application).namelist()
    assert not [name for name in application if "ricalco_client" in name]
    library = zipfile.ZipFile(wheels.library).namelist()
    code = {name for name in library if ".dist-info/" not in name}
    there = (ROOT / "client" / "ricalco_client").rglob("*.py")
    modules = {path.relative_to(ROOT / "client").as_posix() for path in there}
    assert code == modules | {"ricalco_client/py.typed"}
    assert [name for name in library if name.endswith("licenses/LICENSE")]


def test_the_application_asks_for_the_library_beside_it(wheels: Wheels) -> None:
    library, application = _metadata(wheels.library), _metadata(wheels.application)
    assert (library["Name"], library["Version"]) == ("ricalco-client", application["Version"])
    assert f"ricalco-client=={library['Version']}" in application.get_all("Requires-Dist", [])
    (needed,) = library.get_all("Requires-Dist", [])
    assert needed.startswith("requests")
    texts = [(ROOT / folder / "LICENSE").read_bytes() for folder in (".", "client")]
    assert texts[0] == texts[1]


def _metadata(wheel: Path) -> Message:
    """Name, version and dependencies (core metadata, in the form of e-mail headers)."""
    with zipfile.ZipFile(wheel) as archive:
        (name,) = [one for one in archive.namelist() if one.endswith(".dist-info/METADATA")]
        return message_from_bytes(archive.read(name))


def test_the_library_alone_is_imported_and_typed(
    wheels: Wheels, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    python = _install(tmp_path / "env", wheels.library)
    (tmp_path / "shop.py").write_text(SHOP)
    said = _run(python, "shop.py", cwd=tmp_path)
    assert said == "service-unreachable\n"
    # The types are read from what was installed there, as any user's mypy reads them.
    checking = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", tmp_path / "cache"]
    elsewhere = tmp_path_factory.mktemp("types")
    (elsewhere / "shop.py").write_text(SHOP + "reveal_type(service.packs.get)\n")
    told = _run(*checking, "--python-executable", python, "shop.py", cwd=elsewhere)
    assert "def (pack_id: str) -> ricalco_client.values.Pack" in told.replace("builtins.", "")


def test_make_works_from_another_folder(installed: Path, tmp_path: Path) -> None:
    Image.fromarray(data.coffee()).save(tmp_path / "cup.jpg")
    job = ["--support", "40x30cm", "--sheet", "a4", "--out", "pack.pdf", "--language", "it"]
    _run(installed / "ricalco", "make", "cup.jpg", *job, cwd=tmp_path)
    assert (tmp_path / "pack.pdf").read_bytes().startswith(b"%PDF-")


def test_serve_works_from_another_folder(installed: Path, tmp_path: Path) -> None:
    port = free_port()
    process = subprocess.Popen(
        [installed / "ricalco", "serve", "--port", str(port)],
        cwd=tmp_path,
        env=_environment(tmp_path),
    )
    try:
        assert _answers(f"http://127.0.0.1:{port}/healthz", process)
        page = requests.get(f"http://127.0.0.1:{port}/", timeout=10)
        assert page.headers["Content-Type"].startswith("text/html")
    finally:
        process.terminate()
        assert process.wait(timeout=90) == 0


def _answers(url: str, process: subprocess.Popen[bytes]) -> bool:
    until = time.monotonic() + 60
    while time.monotonic() < until and process.poll() is None:
        try:
            return requests.get(url, timeout=2).ok
        except requests.RequestException:
            time.sleep(0.1)
    return False
