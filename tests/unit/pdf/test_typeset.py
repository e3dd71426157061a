"""Paragraphs with bold phrases, broken into lines."""

from worker.pdf.typeset import lines, words


def test_bold_phrases_keep_their_punctuation() -> None:
    found = words("Load **A4** paper, (**grey**) or **two words**.")
    assert [word.text for word in found if word.clings] == ["grey", ")", "."]


def test_no_line_ends_before_a_sign_with_a_no_break_space() -> None:
    """French sets a no-break space before its signs, after a bold phrase too."""
    marked = "in **noir**\u202f; **noir**\u00a0: " * 9
    for line in lines(marked, 9.0, 18.0):
        assert line[0].text not in {"\u202f;", "\u00a0:"}
    assert all(word.clings for word in words(marked) if word.text.endswith((";", ":")))


def test_lines_fit_their_measure() -> None:
    text = "a few **bold words** and others " * 12
    for line in lines(text, 9, 60):
        assert sum(len(word.text) + 1 for word in line) < 60


def test_no_last_line_is_a_word_alone() -> None:
    text = "Rest your hand on a bar or a ruler laid across, never where **paper** lies: it smudges."
    for measure_mm in range(40, 140):
        *before, last = lines(text, 9, measure_mm)
        assert len(last) > 1 or not before
        # Nothing is lost, and nothing doubled.
        found = [word for line in [*before, last] for word in line]
        assert found == words(text)


def test_a_line_of_two_words_keeps_both() -> None:
    assert [len(line) for line in lines("two words alone", 9, 19)] == [2, 1]
