"""From a photo to its pack no request reads the same row by the same statement twice."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import Engine, event

from tests.integration.classes.studio import SPEC, Asker, Studio, photo

Statement = tuple[str, str]


@pytest.fixture(scope="module")
def studio(furnished: Studio, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    made = furnished.copy(tmp_path_factory.mktemp("studio") / "data")
    yield made
    made.close()


@contextmanager
def statements() -> Iterator[list[Statement]]:
    """What is sent to the ledger while the block runs: statement and values."""
    sent: list[Statement] = []

    def note(_connection: Any, _cursor: Any, text: str, values: Any, *_: Any) -> None:
        if not text.startswith("BEGIN"):
            sent.append((text, repr(values)))

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(Engine, "before_cursor_execute", note)


def sent_by(asker: Asker, method: str, path: str, **how: Any) -> tuple[list[Statement], Any]:
    with statements() as sent:
        answer = asker.ask(method, path, **how)
    assert answer.status_code < 300, answer.text
    found = answer.json if answer.is_json else None
    answer.close()
    return sent, found


@pytest.mark.parametrize("name", ["tutor A", "student A2"])
def test_no_statement_is_sent_twice(studio: Studio, name: str) -> None:
    asker = studio.asker(name)
    form = {"file": (io.BytesIO(photo(len(name))), "photo.png")}
    sent, reference = sent_by(asker, "POST", "/v1/references", data=form)
    # A student's photos are counted before the photo is decoded, which takes seconds, and
    # again in the transaction that adds it: only there does the count bind.
    once = [one for one in sent if "count(*)" not in one[0]]
    assert len(set(once)) == len(once) >= len(sent) - 2
    body = {"reference_id": reference["id"], "spec": SPEC}
    for path in ("/v1/plans", "/v1/previews", "/v1/packs"):
        sent, made = sent_by(asker, "POST", path, json=body)
        assert sent
        assert len(set(sent)) == len(sent), path
    studio.make_packs()
    for path in (f"/v1/packs/{made['id']}", f"/v1/packs/{made['id']}/pack.pdf"):
        sent, _ = sent_by(asker, "GET", path)
        # Who asks, whether they see the pack, and the pack: two doors, one after the other.
        assert len(sent) == len(set(sent)) == 3, path


def test_a_tutor_whom_no_class_bounds_has_nothing_counted(studio: Studio) -> None:
    asker = studio.asker("tutor A")
    reference_id = studio.send_photo("tutor A", 99)
    wish = {"reference_id": reference_id, "spec": SPEC}
    sent, _ = sent_by(asker, "POST", "/v1/packs", json=wish)
    assert not [text for text, _ in sent if "sum(packs.total)" in text]
