"""The client's families cover every code that the worker can raise, each in its family."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from ricalco_client import errors
from worker import errors as made

FAMILY_OF = {
    made.PhotoError: errors.PhotoRefused,
    made.SpecError: errors.SpecRefused,
    made.ReadingError: errors.ReadingRefused,
    made.StateError: errors.StateRefused,
    made.PapersError: errors.PapersRefused,
    made.MakingError: errors.MakingFailed,
    made.SetupError: errors.MachineNotReady,
}


def _kinds(family: type[made.RicalcoError]) -> Iterator[type[made.RicalcoError]]:
    for kind in family.__subclasses__():
        if kind.__module__ == made.__name__:
            yield kind
        yield from _kinds(kind)


def test_every_code_of_the_worker_has_its_family_here() -> None:
    wanted = {
        kind.code: mirrored for family, mirrored in FAMILY_OF.items() for kind in _kinds(family)
    }
    assert dict(errors.FAMILIES) == wanted


def test_no_family_of_the_worker_is_missing() -> None:
    # The service has families of its own; what it refuses with them is a RequestRefused here.
    families = made.RicalcoError.__subclasses__()
    assert {kind for kind in families if kind.__module__ == made.__name__} == set(FAMILY_OF)


def test_a_problem_becomes_an_error_that_carries_what_it_says() -> None:
    problem = {"code": "crop-outside", "detail": "Too far right.", "field": "crop.left"}
    error = errors.error_of_problem(problem, 422)
    assert isinstance(error, errors.SpecRefused)
    assert (error.code, error.detail) == ("crop-outside", "Too far right.")
    assert (error.field, error.status) == ("crop.left", 422)


@pytest.mark.parametrize("problem", [{}, {"code": "new-in-2027"}, {"title": "Teapot"}])
def test_an_unknown_problem_is_an_error_all_the_same(problem: dict[str, str]) -> None:
    error = errors.error_of_problem(problem, 418)
    assert type(error) is errors.RequestRefused
    assert error.status == 418
    assert error.detail


def test_a_failed_pack_is_one_family_whatever_the_reason() -> None:
    error = errors.pack_failed({"code": "storage-full", "detail": "The disk is full."})
    assert isinstance(error, errors.MakingFailed)
    assert error.code == "storage-full"
