"""A folded test tells every case that fails, and what is spread leaves nothing out."""

from __future__ import annotations

import itertools

import pytest

from tests.folded import fold, spread
from worker.spec.formats import SHEET_FORMATS

pytest_plugins = ("pytester",)
FOLDED = """
from tests.folded import fold

@fold(("one, other", [(1, 2), (3, 4), (5, 6)]), ("third", ["a", "b"]))
def test_sums(tmp_path, one, other, third):
    assert tmp_path.is_dir()
    assert one != 3
    assert (one, third) != (5, "b")
"""


def test_every_case_that_fails_is_told_by_its_values(pytester: pytest.Pytester) -> None:
    pytester.makepyfile(FOLDED)
    ended = pytester.runpytest_inprocess("-q", "-p", "no:cacheprovider")
    assert ended.parseoutcomes()["failed"] == 4
    told = ended.stdout.str()
    for case in itertools.product(("one=1, other=2", "one=3, other=4", "one=5, other=6"), "ab"):
        fails = "one=3" in case[0] or case == ("one=5, other=6", "b")
        assert (f"[{case[0]}, third={case[1]}]" in told) == fails


def test_a_name_that_the_test_does_not_take_is_refused() -> None:
    with pytest.raises(AssertionError, match="no such argument"):
        fold(("another", [1]))(lambda one: None)  # noqa: ARG005
    with pytest.raises(AssertionError, match="nothing would be tested"):
        fold(("one", []))


@pytest.mark.parametrize("count", [1, 2, 4, 5, 11])
def test_spread_leaves_no_name_and_no_option_out(count: int) -> None:
    sizes = {name: sheet.width_mm * sheet.height_mm for name, sheet in SHEET_FORMATS.items()}
    options = list(range(count))
    found = spread(list(sizes), options, sizes.__getitem__)
    assert {name for name, _ in found} == set(sizes)
    assert len(found) < len(sizes) + count
    # Each option meets as many sizes as the others, from the small ones to the large ones.
    counts = [[sizes[name] for name, option in found if option == one] for one in options]
    assert len({len(one) for one in counts}) == 1
    assert all(one == sorted(one) for one in counts)
