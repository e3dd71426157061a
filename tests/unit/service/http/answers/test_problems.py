"""Every error leaves as a problem (RFC 9457), and none is forgotten."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import import_module

import pytest
from flask import Flask, Response, abort

from service.http import errors as service_errors
from service.http.answers import problems
from tests.folded import fold
from worker import errors
from worker.errors import RicalcoError


def kinds(of: type[RicalcoError] = RicalcoError) -> Iterator[type[RicalcoError]]:
    """Every class of the two error trees."""
    yield of
    for kind in of.__subclasses__():
        yield from kinds(kind)


OURS = {errors.__name__, service_errors.__name__}
KINDS = [kind for kind in kinds() if kind.__module__ in OURS]


@fold(("kind", KINDS))
def test_every_error_has_a_status_of_its_own(kind: type[RicalcoError]) -> None:
    assert 400 <= problems.STATUS[kind] < 600


def test_errors_elsewhere_never_leave() -> None:
    """An error outside the two trees would find no status."""
    # The application loads every module of the service, and of the worker what it uses.
    import_module("service.app")
    rooms = ("service.", "worker.")
    strangers = [kind for kind in kinds() if kind.__module__ not in OURS]
    assert [kind for kind in strangers if kind.__module__.startswith(rooms)] == []


def test_codes_are_kebab_case_and_nobody_shares_one() -> None:
    codes = [kind.code for kind in KINDS if "code" in vars(kind)]
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", code) for code in codes)
    assert len(set(codes)) == len(codes)


def test_every_code_has_words_and_every_word_a_code() -> None:
    """A code without words would have no page at its type."""
    sent = {kind.code for kind in KINDS} | set(problems.HTTP_CODES.values()) | {problems.NOT_READY}
    assert set(problems.WORDS) == sent
    for words in problems.WORDS.values():
        assert set(words) == {"title", "advice"}
        assert all(text.endswith(".") for text in words.values())


@pytest.mark.parametrize("module", [errors, service_errors])
def test_the_tree_at_the_top_of_the_module_names_every_code(module: object) -> None:
    told = str(module.__doc__)
    for kind in KINDS:
        if kind.__module__ == getattr(module, "__name__", "") and "code" in vars(kind):
            assert kind is RicalcoError or re.search(rf"{kind.__name__} +{kind.code}\n", told)


@pytest.fixture
def app() -> Flask:
    """An application in which everything goes wrong."""
    app = Flask("test", static_folder=None)
    problems.register(app)

    @app.post("/spec")
    def spec() -> Response:
        raise errors.SpecInvalid("No.", fields={"a.b": ["No."]}, field="a.b")

    @app.get("/busy")
    def busy() -> Response:
        raise service_errors.Busy("Wait.", retry_after_s=7)

    @app.get("/full")
    def full() -> Response:
        raise errors.StorageFull("Full.")

    @app.get("/fault")
    def fault() -> Response:
        raise ZeroDivisionError("a secret")

    @app.get("/gone")
    def gone() -> Response:
        abort(410)

    return app


def test_a_problem_has_the_members_of_the_rfc_and_ours(app: Flask) -> None:
    answer = app.test_client().post("/spec")
    assert answer.status_code == 422
    assert answer.content_type == "application/problem+json"
    assert answer.json == {
        "type": "/v1/problems/spec-invalid",
        "title": "A field of the spec is missing, unknown, of the wrong type or out of range.",
        "status": 422,
        "code": "spec-invalid",
        "detail": "No.",
        "field": "a.b",
        "fields": {"a.b": ["No."]},
    }


def test_405_keeps_allow(app: Flask) -> None:
    answer = app.test_client().get("/spec")
    assert answer.status_code == 405
    assert answer.json is not None
    assert answer.json["code"] == "method-not-allowed"
    assert set(answer.headers["Allow"].split(", ")) == {"OPTIONS", "POST"}


@pytest.mark.parametrize(
    ("path", "status", "code"),
    [
        ("/nothing", 404, "not-found"),
        ("/gone", 410, "bad-request"),
        ("/full", 507, "storage-full"),
    ],
)
def test_other_refusals_are_problems_too(app: Flask, path: str, status: int, code: str) -> None:
    answer = app.test_client().get(path)
    assert (answer.status_code, answer.json and answer.json["code"]) == (status, code)
    assert answer.content_type == "application/problem+json"


def test_who_has_to_wait_is_told_how_long(app: Flask) -> None:
    assert app.test_client().get("/busy").headers["Retry-After"] == "7"


def test_a_fault_of_ours_tells_nothing_of_its_inside(app: Flask) -> None:
    answer = app.test_client().get("/fault")
    assert answer.status_code == 500
    assert answer.json is not None
    assert answer.json["code"] == "internal-error"
    assert "secret" not in answer.text
    assert "Traceback" not in answer.text
