"""Names of sections stay in their column."""

from worker.pages.guide.page import heading_pt
from worker.pdf.fonts import BOLD
from worker.pdf.text import width_pt
from worker.units import mm_to_pt


def test_a_long_word_of_a_name_is_set_smaller_and_others_are_not() -> None:
    assert heading_pt("Carta da ricalco", 9.0, 22.0) == 9.0
    smaller = heading_pt("Transferpapier", 9.0, 22.0)
    assert 7.0 < smaller < 9.0
    assert width_pt("Transferpapier", BOLD, smaller) <= mm_to_pt(22.0) + 1e-6
