"""What the guide says about measuring what was joined."""

from collections.abc import Callable

from worker.pages.section import Section
from worker.spec.spec import Sheet, Spec, Support

SIX = Spec(support=Support(width_mm=600, height_mm=400))

Said = Callable[[Spec], str]


def test_both_sides_and_the_diagonals_are_measured(said: Said) -> None:
    text = said(SIX)
    assert "Width, along the bottom edge: 600.0 mm" in text
    assert "Height, from the dashed line at the top to the bottom edge: 400.0 mm" in text
    # 600 × 400: the diagonal is 200 × √13.
    assert "Both diagonals: 721.1 mm" in text


def test_inches_stand_beside_millimetres_on_american_sheets(said: Said) -> None:
    american = Spec(
        support=Support(width_mm=558.8, height_mm=762), sheet=Sheet(format="na_letter_8.5x11in")
    )
    assert "558.8 mm (22 in)" in said(american)
    assert " in)" not in said(SIX)


def test_lengths_that_are_all_off_are_no_fault_of_a_seam(said: Said) -> None:
    text = said(SIX)
    assert text.index("in the same proportion? It is the printer or damp") < text.index(
        "find the seam where lines do not meet"
    )


def test_of_a_wall_every_strip_is_measured(said: Said) -> None:
    text = said(Spec(support=Support(width_mm=3000, height_mm=2000)))
    assert "Every strip is 3000.0 mm long" in text
    assert "Width, along" not in text


def test_no_line_ends_between_a_sign_and_its_figure(
    sections: Callable[[Spec], dict[str, Section]],
) -> None:
    found = sections(SIX)
    assert ", ±\u00a01.2\u00a0mm." in found["Check"].steps[0].text
    assert "(100\u00a0%)" in found["Print"].steps[0].text
