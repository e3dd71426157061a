"""Many cases of one check in one test, which tells every case that fails and not the first.

A thousand tests that compare one number each take longer to be collected and told than to run,
and hide in the count what is proven. The cases stay what they were: each is a subtest of its own
with its values in its name.
"""

from __future__ import annotations

import functools
import inspect
import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any, TypeVar

import pytest

Option = TypeVar("Option")
Test = Callable[..., None]
#: What a value is shortened to in the name of a case.
_LONGEST_NAME = 60


def fold(*axes: tuple[str, Iterable[Any]]) -> Callable[[Test], Test]:
    """Run a test for every combination of values, as one test.

    Args:
        axes: Names of arguments, divided by commas as `pytest.mark.parametrize` takes them, and
            the values that they take. What the test asks for besides are fixtures, which all its
            cases share.
    """
    named = [([name.strip() for name in names.split(",")], list(values)) for names, values in axes]
    assert all(values for _, values in named), "nothing would be tested"

    def folded(test: Test) -> Test:
        @functools.wraps(test)
        def every_case(subtests: pytest.Subtests, **fixtures: Any) -> None:
            for found in itertools.product(*(values for _, values in named)):
                case: dict[str, Any] = {}
                for (names, _), value in zip(named, found, strict=True):
                    case |= dict(zip(names, value if len(names) > 1 else [value], strict=True))
                with subtests.test(msg=", ".join(f"{name}={_named(case[name])}" for name in case)):
                    test(**fixtures, **case)

        every_case.__signature__ = _signature(test, named)  # PEP 362
        return every_case

    return folded


def spread(
    names: Sequence[str], options: Sequence[Option], size: Callable[[str], float]
) -> list[tuple[str, Option]]:
    """Some pairs of many: each option with a small, a middling and a large one, each name once.

    The names are put in order of size and cut into as few groups as have no more members than
    there are options; every option is paired with one of each group, in turn. So all pairs of
    option and size are there, and no name is left out.
    """
    ordered = sorted(names, key=size)
    count = math.ceil(len(ordered) / len(options))
    edges = [len(ordered) * place // count for place in range(count + 1)]
    groups = [ordered[start:end] for start, end in itertools.pairwise(edges)]
    pairs = [
        (group[place % len(group)], option)
        for group in groups
        for place, option in enumerate(options)
    ]
    assert {name for name, _ in pairs} == set(names)
    return pairs


def _signature(test: Test, named: list[tuple[list[str], list[Any]]]) -> inspect.Signature:
    """What pytest is to hand over: the subtests, and what no axis gives."""
    given = {name for names, _ in named for name in names}
    signature = inspect.signature(test)
    assert given <= set(signature.parameters), f"{test.__name__} has no such argument"
    subtests = inspect.Parameter("subtests", inspect.Parameter.KEYWORD_ONLY)
    rest = (
        parameter.replace(kind=inspect.Parameter.KEYWORD_ONLY)
        for name, parameter in signature.parameters.items()
        if name not in given
    )
    return signature.replace(parameters=[subtests, *rest])


def _named(value: Any) -> str:
    text = getattr(value, "__name__", None) or str(value)
    # A lone surrogate is a case to be tested, and no text that a name can be told in.
    text = text.encode("utf-8", "backslashreplace").decode()
    return text if len(text) <= _LONGEST_NAME else f"{text[:_LONGEST_NAME]}…"
