"""The client library's README: its examples run in order, and print what it says they print."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from standardwebhooks import Webhook

import ricalco_client
from ricalco_client import api
from tests.integration.classes.conftest import Running, open_room

README = Path(__file__).resolve().parents[4] / "client" / "README.md"
EXAMPLES = re.findall(r"^```python\n(.*?)^```", README.read_text("utf-8"), re.MULTILINE | re.DOTALL)
ADDRESS = "http://127.0.0.1:8640"


@pytest.fixture
def here(tmp_path: Path, photo: bytes, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder with a photo and a file that is none, to work in."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "photo.jpg").write_bytes(photo)
    (tmp_path / "notes.txt").write_text("Bring charcoal.")
    yield tmp_path
    # No download leaves a part of itself behind.
    assert not [path for path in tmp_path.iterdir() if path.suffix in {".part", ".tmp"}]


def test_the_examples_print_what_the_readme_says(
    running: Running, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names: dict[str, Any] = {"Ricalco": ricalco_client.Ricalco}
    _run(api.__doc__.split("\n\n")[1] if api.__doc__ else "", running, names)
    assert (here / "pack.pdf").stat().st_size > 0
    key = ""
    for number, example in enumerate(EXAMPLES):
        if "rck_…" in example:
            key = open_room(running, ("Kit",)).tutor.key
        _run(example.replace("rck_…", key), running, names)
        told = re.findall(r"^ *print\(.*\)  # (.*)$", example, flags=re.MULTILINE)
        assert capsys.readouterr().out.splitlines() == told, f"example {number}"
    _check_receiver(names, capsys)
    with pikepdf.open(here / "pack.pdf") as pdf:
        assert len(pdf.pages) == 3 + names["pack"].plan["sheet_count"]
    for name in (
        "map.png",
        "sheet.pdf",
        "iso_a4_210x297mm.pdf",
        "iso_a4_210x297mm.ipp",
        "packs.zip",
        "table.csv",
    ):
        assert (here / name).stat().st_size > 0, name


def _check_receiver(names: dict[str, Any], capsys: pytest.CaptureFixture[str]) -> None:
    """The receiver that is shown takes what the standard's own package has signed."""
    now = datetime.now(UTC)
    told = {"type": "pack.ready", "timestamp": now.isoformat(), "data": {"id": "pck_1"}}
    body = json.dumps(told)
    signed = Webhook(names["secret"]).sign("msg_1", now, body)
    stamp = str(int(now.timestamp()))
    headers = {"Webhook-Id": "msg_1", "Webhook-Timestamp": stamp, "Webhook-Signature": signed}
    assert names["receive"](body.encode(), headers) == 204
    assert capsys.readouterr().out == "pack.ready pck_1\n"
    assert names["receive"](body.replace("pck_1", "pck_2").encode(), headers) == 400


def _run(program: str, running: Running, names: dict[str, Any]) -> None:
    assert ADDRESS in program or names
    exec(compile(program.replace(ADDRESS, running.url), str(README), "exec"), names)  # noqa: S102 -- It is our own README.


def test_every_error_of_the_library_is_in_its_table() -> None:
    text = README.read_text(encoding="utf-8")
    exported = [getattr(ricalco_client, name) for name in ricalco_client.__all__]
    errors = [one for one in exported if isinstance(one, type) and issubclass(one, Exception)]
    assert len(errors) > 10
    assert {one.__name__ for one in errors if f"`{one.__name__}`" not in text} == set()
