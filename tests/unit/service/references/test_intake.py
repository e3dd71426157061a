"""What becomes of a request whose ledger or process goes away in its midst."""

from __future__ import annotations

import hashlib
import io
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from flask import Flask
from PIL import Image
from werkzeug.test import TestResponse

from service.app import create_app
from service.runtime.context import EXTENSION, ServiceContext
from service.runtime.key_holds import KeyHolds
from tests.waiting import wait_until
from worker.errors import LedgerUnavailable, LimitReached
from worker.jobs.upkeep.cleanup import remove_orphans
from worker.settings import Settings
from worker.store.ledger import LOCAL_OWNER, HeldKey


@pytest.fixture
def app(tmp_path: Path) -> Flask:
    return create_app(Settings(data_dir=tmp_path))


@pytest.fixture
def context(app: Flask) -> ServiceContext:
    found: ServiceContext = app.extensions[EXTENSION]
    return found


@pytest.fixture(scope="module")
def photo() -> bytes:
    random = np.random.default_rng(5)
    file = io.BytesIO()
    # A strip: the less there is to be read, the sooner it is taken in.
    small = Image.fromarray(random.integers(0, 255, (5, 60, 3), dtype=np.uint8))
    small.resize((1200, 100)).save(file, "JPEG")
    return file.getvalue()


def send(app: Flask, photo: bytes) -> TestResponse:
    return app.test_client().post(
        "/v1/references",
        data={"file": (io.BytesIO(photo), "photo.jpg")},
        headers={"Idempotency-Key": "once"},
    )


def found(app: Flask, photo: bytes) -> list[dict[str, Any]]:
    sha256 = hashlib.sha256(photo).hexdigest()
    answer = app.test_client().get(f"/v1/references?sha256={sha256}")
    return list(answer.get_json()["items"])


def shown(app: Flask, reference: dict[str, Any]) -> int:
    with app.test_client().get(reference["links"]["preview"]) as answer:
        return answer.status_code


@pytest.fixture
def lose_answer(context: ServiceContext, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Break the connection at the photo's commit, after or before the ledger has done it."""

    def lose(*, done: bool) -> None:
        add, dialect = context.ledger.add_reference, context.ledger._database.engine.dialect

        def fail(connection: Any) -> None:
            if done:
                connection.commit()
            message = "server closed the connection unexpectedly"
            raise dialect.loaded_dbapi.OperationalError(message)  # type: ignore[attr-defined]

        def broken(*arguments: Any, **named: Any) -> Any:
            with monkeypatch.context() as patch:
                patch.setattr(dialect, "do_commit", fail)
                return add(*arguments, **named)

        monkeypatch.setattr(context.ledger, "add_reference", broken)

    return lose


def test_a_photo_whose_commit_was_not_answered_is_there_if_its_row_is(
    app: Flask, context: ServiceContext, photo: bytes, lose_answer: Callable[..., None]
) -> None:
    """Its files were deleted, and it could never be sent again: it was found as sent."""
    lose_answer(done=True)
    answer = send(app, photo)
    assert (answer.status_code, answer.get_json()["code"]) == (503, "ledger-unavailable")
    (item,) = found(app, photo)
    assert shown(app, item) == 200
    again = send(app, photo)
    assert (again.status_code, again.get_json()["id"]) == (201, item["id"])
    assert len(list(context.storage.keys("references"))) == 1


def test_what_is_left_of_a_photo_without_its_row_is_swept(
    app: Flask,
    context: ServiceContext,
    photo: bytes,
    lose_answer: Callable[..., None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lose_answer(done=False)
    assert send(app, photo).status_code == 503
    assert found(app, photo) == []
    monkeypatch.undo()
    again = send(app, photo)
    assert again.status_code == 201
    monkeypatch.setattr("worker.jobs.upkeep.cleanup.REFERENCE_AGE_S", -1.0)
    assert remove_orphans(context.ledger, context.storage) == 1
    assert shown(app, again.get_json()) == 200


@pytest.mark.parametrize("error", [LimitReached("Enough."), LedgerUnavailable("Locked.")])
def test_a_photo_that_was_refused_leaves_no_files(
    app: Flask,
    context: ServiceContext,
    photo: bytes,
    monkeypatch: pytest.MonkeyPatch,
    error: Exception,
) -> None:
    def refuse(*_arguments: object, **_named: object) -> None:
        raise error

    monkeypatch.setattr(context.ledger, "add_reference", refuse)
    assert send(app, photo).get_json()["code"] == vars(type(error))["code"]
    assert list(context.storage.keys("references")) == []


@pytest.mark.parametrize("name", ["master.zip", "study.npz", "preview.jpg"])
def test_a_photo_whose_files_are_gone_is_not_found_as_sent_already(
    app: Flask, context: ServiceContext, photo: bytes, name: str
) -> None:
    lost = send(app, photo).get_json()["id"]
    assert [item["id"] for item in found(app, photo)] == [lost]
    context.storage.delete(f"references/{lost}/{name}")
    assert found(app, photo) == []


def test_a_request_under_way_keeps_its_key_and_a_finished_one_lets_go(
    context: ServiceContext, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("service.runtime.key_holds.RENEW_S", 0.01)
    begun = context.ledger.begin(LOCAL_OWNER, "k", "f")
    assert isinstance(begun, HeldKey)
    faults = iter([LedgerUnavailable("Away."), ZeroDivisionError()])
    renewed: list[list[HeldKey]] = []

    def renew(held: list[HeldKey]) -> None:
        for fault in faults:
            raise fault
        renewed.append(held)

    holds = KeyHolds(renew)
    for _ in range(2):
        with holds.held(begun):
            wait_until(lambda: renewed)
        wait_until(lambda: "holds" not in {thread.name for thread in threading.enumerate()})
        assert {tuple(held) for held in renewed} == {(begun,)}
        renewed.clear()


def test_who_cannot_give_a_key_back_still_hears_what_went_wrong(
    app: Flask, context: ServiceContext, photo: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_arguments: object, **_named: object) -> None:
        raise LimitReached("Enough.")

    def away(_fresh: HeldKey) -> None:
        raise LedgerUnavailable("Away.")

    monkeypatch.setattr(context.ledger, "add_reference", refuse)
    monkeypatch.setattr(context.ledger, "abandon", away)
    assert send(app, photo).get_json()["code"] == "limit-reached"


def test_a_request_that_holds_its_key_says_when_to_ask_again(
    app: Flask, context: ServiceContext, photo: bytes
) -> None:
    fingerprint = hashlib.sha256(photo).hexdigest()
    begun = context.ledger.begin(
        LOCAL_OWNER, "once", f"POST /v1/references {LOCAL_OWNER} {fingerprint}"
    )
    assert isinstance(begun, HeldKey)
    answer = send(app, photo)
    assert answer.get_json()["code"] == "idempotency-key-in-progress"
    assert int(answer.headers["Retry-After"]) == 2
