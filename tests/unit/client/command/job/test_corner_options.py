"""The options that square up a picture."""

from __future__ import annotations

from typing import Any

import click
import pytest
from click.testing import CliRunner

from client.command.job.corner_options import SquareUpOptions, parse_proportion, square_up_options
from client.command.job.options import spec_options
from client.command.job.specs import build_spec, option_of

CORNERS = "0.1,0.2, 90%,15%,0.85,0.8,0.05,0.9"


def _said(*words: str) -> dict[str, Any]:
    """The parsed options of a job, for these arguments."""
    found: dict[str, Any] = {}

    @click.command()
    @spec_options
    def command(**options: Any) -> None:
        found.update(options)

    result = CliRunner().invoke(command, ["--support", "a4", *words], standalone_mode=False)
    if result.exception:
        raise result.exception
    return found


def test_nothing_said_is_nothing_squared() -> None:
    assert square_up_options(_said()) is None


def test_corners_are_pairs_in_shares_or_percent() -> None:
    found = square_up_options(_said("--corners", CORNERS))
    assert found == SquareUpOptions(
        corners=((0.1, 0.2), (0.9, 0.15), (0.85, 0.8), (0.05, 0.9)), proportion=None
    )


def test_the_spec_knows_nothing_of_it() -> None:
    options = _said("--corners", CORNERS, "--proportion", "3:2")
    assert build_spec(options) == build_spec(_said())
    found = square_up_options(options)
    assert found is not None
    assert found.proportion == 1.5


@pytest.mark.parametrize(
    ("text", "value"), [("1.5", 1.5), ("3:2", 1.5), ("210:297", 210 / 297), (" 4 : 5 ", 0.8)]
)
def test_a_proportion_is_one_number_or_two(text: str, value: float) -> None:
    assert parse_proportion(text) == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "3:", ":2", "0", "-1", "3:0", "nan", "inf", "3x2", "1:2:3"])
def test_what_is_no_proportion_is_wrong_usage(text: str) -> None:
    with pytest.raises(click.BadParameter):
        parse_proportion(text)


@pytest.mark.parametrize(
    "words",
    [
        ["--corners", "0,0,1,0,1,1,0"],
        ["--corners", "0,0,1,0,1,1,0,1,1"],
        ["--corners", "here"],
        ["--corners", "0,0,1,0,1,1,0,nan"],
        ["--proportion", "3:2"],
    ],
)
def test_what_cannot_be_meant_is_wrong_usage(words: list[str]) -> None:
    with pytest.raises(click.UsageError):
        square_up_options(_said(*words))


def test_what_is_at_fault_is_told_by_its_option() -> None:
    assert option_of("corners") == option_of("corners.3.1") == "--corners"
    assert option_of("proportion") == "--proportion"
