"""Documents that are asked for again and again: unchanged ones have no body (RFC 9110, 13)."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.integration.classes.studio import SPEC, Asker, Studio


@pytest.fixture(scope="module")
def studio(furnished: Studio, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    made = furnished.copy(tmp_path_factory.mktemp("studio") / "data")
    yield made
    made.close()


def paths(studio: Studio) -> tuple[str, str, str]:
    """The addresses of a pack, a batch and a board."""
    ids = studio.ids
    board = f"/v1/classes/{ids['class_id A']}/board"
    return f"/v1/packs/{ids['pack_id A']}", f"/v1/batches/{ids['batch_id A']}", board


def tag_of(asker: Asker, path: str) -> str:
    """The tag of a document; it is strong."""
    answer = asker.ask("GET", path)
    tag = answer.headers["ETag"]
    assert answer.status_code == 200
    assert tag.startswith('"')
    return str(tag)


@pytest.mark.parametrize("number", range(3))
def test_an_unchanged_document_has_no_body(studio: Studio, number: int) -> None:
    asker, path = studio.asker("tutor A"), paths(studio)[number]
    tag = tag_of(asker, path)
    # Weak comparison (13.1.2), one of several tags, and any tag.
    for said in (tag, f"W/{tag}", f'"other", {tag}', "*"):
        answer = asker.ask("GET", path, headers={"If-None-Match": said})
        assert (answer.status_code, answer.data) == (304, b""), said
        # 15.4.5: what a 200 would have had, and no Content-Type of a body that is not there.
        assert answer.headers["ETag"] == tag
        assert answer.headers["Cache-Control"] == "no-store"
        assert "Authorization" in answer.headers["Vary"]
        assert "Content-Length" not in answer.headers
    head = asker.ask("HEAD", path, headers={"If-None-Match": tag})
    assert head.status_code == 304
    assert asker.ask("HEAD", path).headers["ETag"] == tag
    for said in ('"other"', tag.strip('"') + "x"):
        assert asker.ask("GET", path, headers={"If-None-Match": said}).status_code == 200


def test_a_change_gives_another_tag(studio: Studio, tmp_path: Path) -> None:
    mine = studio.copy(tmp_path / "data")
    asker = mine.asker("tutor A")
    before = [tag_of(asker, path) for path in paths(mine)]
    pack = f"/v1/packs/{mine.ids['pack_id A']}"
    asker.ask("PATCH", pack, json={"printed": True})
    after = [tag_of(asker, path) for path in paths(mine)]
    assert before[0] != after[0]
    # The batch made another pack, and the board shows the newest.
    asker.ask("PATCH", f"/v1/packs/{batch_pack(asker, mine)}", json={"joined": True})
    last = [tag_of(asker, path) for path in paths(mine)]
    assert after[1:] != last[1:]
    assert after[1] != last[1]
    assert after[2] != last[2]
    mine.close()


def batch_pack(asker: Asker, studio: Studio) -> str:
    """The pack of the batch's first item that has one."""
    items = asker.ask("GET", f"/v1/batches/{studio.ids['batch_id A']}").json["items"]
    return str(next(item["pack_id"] for item in items if "pack_id" in item))


def test_a_tag_opens_nothing(studio: Studio) -> None:
    """Whether a document is as it was is told to those alone who may see it."""
    pack = paths(studio)[0]
    headers = {"If-None-Match": tag_of(studio.asker("student A1"), pack)}
    for name, status in (("nobody", 401), ("student A2", 404), ("tutor B", 404)):
        assert studio.asker(name).ask("GET", pack, headers=headers).status_code == status


def test_an_answer_that_was_given_before_says_so(studio: Studio) -> None:
    asker = studio.asker("student A1")
    wish = {"reference_id": studio.ids["reference_id A"], "spec": SPEC}
    ask = {"json": wish, "headers": {"Idempotency-Key": "one-and-the-same"}}
    first, again = (asker.ask("POST", "/v1/packs", **ask) for _ in range(2))
    assert (first.status_code, first.json) == (again.status_code, again.json)
    # A boolean (RFC 9651, 3.3.6).
    assert "Idempotency-Replayed" not in first.headers
    assert again.headers["Idempotency-Replayed"] == "?1"
    assert again.headers["Location"] == first.headers["Location"]
