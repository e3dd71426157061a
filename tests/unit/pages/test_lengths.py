"""How lengths and labels are written."""

import pytest

from worker.pages.lengths import label_list, measures_for, stack_name
from worker.words.catalogue import words_for


def test_millimetres_alone_on_iso_sheets() -> None:
    say = measures_for("iso_a4_210x297mm")
    assert say.length(721.1102) == "721.1\u00a0mm"
    assert say.size(600, 400.5) == "600 × 400.5\u00a0mm"


def test_inches_beside_on_american_sheets() -> None:
    say = measures_for("na_letter_8.5x11in")
    assert say.length(101.6) == "101.6\u00a0mm (4\u00a0in)"  # The inch is 25.4 mm exactly.
    assert say.length(190.5) == "190.5\u00a0mm (7.5\u00a0in)"


@pytest.mark.parametrize(
    ("labels", "text"),
    [
        (["1·1"], "1·1"),
        (["1·1", "1·2"], "1·1, 1·2"),
        (["1·1", "1·2", "1·3"], "1·1 to 1·3"),
        (["1·1", "1·2", "1·3", "2·1", "3·4"], "1·1 to 1·3, 2·1, 3·4"),
        (["27·9", "27·10", "27·11"], "27·9 to 27·11"),
    ],
)
def test_labels_are_drawn_together(labels: list[str], text: str) -> None:
    assert label_list(words_for("en"), labels) == text


def test_a_range_is_in_the_language_of_the_pack() -> None:
    assert label_list(words_for("it"), ["1·1", "1·2", "1·3"]) == "da 1·1 a 1·3"


def test_long_lists_end_in_an_ellipsis() -> None:
    assert label_list(words_for("en"), ["1·1", "2·2", "3·3"], most=2) == "1·1, 2·2, …"


@pytest.mark.parametrize(
    ("number", "roman"),
    [(1, "I"), (4, "IV"), (9, "IX"), (13, "XIII"), (44, "XLIV"), (79, "LXXIX"), (98, "XCVIII")],
)
def test_stacks_have_roman_numbers(number: int, roman: str) -> None:
    # As clock faces, chapters and monuments number (common practice).
    assert stack_name(number - 1) == roman
