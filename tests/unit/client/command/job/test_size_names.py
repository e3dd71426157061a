"""Names of sheets and supports, against the standards that give their sizes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.command.job.size_names import read_sheet, read_support
from worker.errors import FormatUnknown, SizeUnreadable
from worker.spec.formats import SHEET_FORMATS, SUPPORTS, SupportSize

#: ISO 216:2007, tables 1 and 2, trimmed sizes in mm.
ISO_216 = {
    "a0": (841, 1189),
    "a1": (594, 841),
    "a2": (420, 594),
    "a3": (297, 420),
    "a4": (210, 297),
    "a5": (148, 210),
    "b1": (707, 1000),
    "b2": (500, 707),
}
#: ANSI/ASME Y14.1 sizes A and B, in inches (from memory).
Y14_1_IN = {"letter": (8.5, 11), "ledger": (11, 17)}


@pytest.mark.parametrize("name", ISO_216)
def test_a_name_has_the_size_of_iso_216(name: str) -> None:
    size = read_support(name)
    assert (size.width_mm, size.height_mm) == ISO_216[name]


@pytest.mark.parametrize("name", Y14_1_IN)
def test_a_name_has_the_size_of_y14_1(name: str) -> None:
    size = read_support(name)
    assert (size.width_mm, size.height_mm) == pytest.approx(
        tuple(25.4 * side for side in Y14_1_IN[name])
    )


@pytest.mark.parametrize("text", ["A3 landscape", "a3  Landscape"])
def test_a_name_can_be_turned(text: str) -> None:
    assert (read_support(text).width_mm, read_support(text).height_mm) == (420, 297)


def test_a_trade_name_is_a_support() -> None:
    # 22 × 30 in is called imperial (common practice).
    assert read_support("Imperial") == read_support("22x30in")


def test_a_size_is_a_support() -> None:
    assert read_support("59,2 x 41,7 cm").width_mm == pytest.approx(592)


def test_an_unknown_name_is_told_what_is_known() -> None:
    with pytest.raises(SizeUnreadable, match=r"a3.*60x40cm"):
        read_support("a77")


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("a4", "iso_a4_210x297mm"),
        ("A4", "iso_a4_210x297mm"),
        ("iso_a4_210x297mm", "iso_a4_210x297mm"),
        ("210x297mm", "iso_a4_210x297mm"),
        ("29.7 x 21 cm", "iso_a4_210x297mm"),
        ("letter", "na_letter_8.5x11in"),
        ("8.5x11in", "na_letter_8.5x11in"),
        ("8½ x 11 in", "na_letter_8.5x11in"),
        ("US Letter", None),
        ("tabloid", "na_ledger_11x17in"),
        ("super b", "na_super-b_13x19in"),
        ("A3+", "na_super-b_13x19in"),
        ("a77", None),
        ("100x100mm", None),
        ("", None),
    ],
)
def test_a_sheet_is_one_that_printers_know(text: str, name: str | None) -> None:
    if name is None:
        with pytest.raises(FormatUnknown, match="Letter"):
            read_sheet(text)
    else:
        assert read_sheet(text) == name


@given(st.sampled_from(sorted(SHEET_FORMATS)))
def test_every_format_answers_to_its_name_its_title_and_its_size(name: str) -> None:
    known = SHEET_FORMATS[name]
    assert read_sheet(name) == name
    assert read_sheet(known.title.upper()) == name
    assert read_sheet(f"{known.width_mm:.1f}x{known.height_mm:.1f}mm") == name


@given(st.sampled_from(SUPPORTS))
def test_every_support_answers_to_its_name_and_title(known: SupportSize) -> None:
    for text in (known.name, known.title):
        size = read_support(text)
        assert size.width_mm == pytest.approx(known.width_mm)
