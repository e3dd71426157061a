"""Paragraphs with bold phrases, broken into lines."""

from worker.pdf.typeset import lines, words


def test_bold_phrases_keep_their_punctuation() -> None:
    found = words("Load **A4** paper, (**grey**) or **two words**.")
    assert [word.text for word in found if word.clings] == ["grey", ")", "."]


def test_lines_fit_their_measure() -> None:
    text = "a few **bold words** and others " * 12
    for line in lines(text, 9, 60):
        assert sum(len(word.text) + 1 for word in line) < 60
