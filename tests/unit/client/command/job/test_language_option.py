"""The language of what is printed is one that there are texts in."""

import click
import pytest

from client.command.job.language_option import Language


@pytest.mark.parametrize(("told", "language"), [("it", "it"), ("IT-it", "it"), ("en_GB", "en")])
def test_a_language_is_told_by_its_tag(told: str, language: str) -> None:
    assert Language().convert(told, None, None) == language


def test_another_is_refused_with_those_that_there_are() -> None:
    with pytest.raises(click.BadParameter, match=r"'xx' is none of en, .*\bit\b"):
        Language().convert("xx", None, None)
