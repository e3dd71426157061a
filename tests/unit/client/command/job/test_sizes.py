"""Sizes as people write them, against published sizes and back again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from client.command.job.sizes import UNITS_MM, read_length, read_size, write_size
from worker.errors import SizeUnreadable


@pytest.mark.parametrize(
    ("text", "width_mm", "height_mm"),
    [
        ("60x40cm", 600, 400),
        ("60 x 40 cm", 600, 400),
        ("60 × 40 cm", 600, 400),
        ("60cmx40cm", 600, 400),
        ("60cm x 40", 600, 400),
        ("60 * 40 CM", 600, 400),
        ("60 by 40 cm", 600, 400),
        ("0.6x0.4m", 600, 400),
        ("1.2m x 80cm", 1200, 800),
        ("594x420mm", 594, 420),
        ("59,4x42cm", 594, 420),
        ("59,4 × 42,0 cm", 594, 420),
        # 1 in = 25.4 mm exactly (NIST SP 811, B.6).
        ("22x30in", 558.8, 762),
        ('22"x30"', 558.8, 762),
        ("22″ × 30″", 558.8, 762),
        ("22 inches by 30 inches", 558.8, 762),
        ("22 1/2 x 30 in", 571.5, 762),
        ("22-1/2 x 30 in", 571.5, 762),
        ("22½ x 30 in", 571.5, 762),
        ("½ x ¾ in", 12.7, 19.05),
        ("2x3ft", 609.6, 914.4),
        ("40x60cm landscape", 600, 400),
        ("60 x 40 cm portrait", 400, 600),
        ("\t60\N{NO-BREAK SPACE}x 40\N{NO-BREAK SPACE}cm ", 600, 400),
    ],
)
def test_a_size_is_read_as_it_was_meant(text: str, width_mm: float, height_mm: float) -> None:
    size = read_size(text)
    assert (size.width_mm, size.height_mm) == pytest.approx((width_mm, height_mm), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("60x40", "no unit: write 60x40cm"),
        ("60", "no size"),
        ("60cm", "no size"),
        ("", "no size"),
        ("big", "no size"),
        ("60x40x20cm", "no size"),
        ("-60x40cm", "no size"),
        ("60x40km", "no size"),
        ("0x40cm", "nothing"),
        ("1/0x40cm", "nothing"),
        ("1,000x700mm", "comma"),
        ("nanxinfcm", "no size"),
        ("1e9x2cm", "no size"),
        ("9" * 70 + "x1cm", "too long"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(SizeUnreadable, match=reason):
        read_size(text)


@pytest.mark.parametrize(
    ("text", "length_mm"), [("8mm", 8), ("1,5 cm", 15), ("1/4 in", 6.35), ("0", 0), ("0mm", 0)]
)
def test_a_length_is_read(text: str, length_mm: float) -> None:
    assert read_length(text) == pytest.approx(length_mm)


@pytest.mark.parametrize("text", ["8", "", "8 x 9 mm", "mm", "-1mm"])
def test_a_length_needs_a_number_and_a_unit(text: str) -> None:
    with pytest.raises(SizeUnreadable, match=r"(?i)write"):
        read_length(text)


_HUNDREDTHS = st.integers(min_value=1, max_value=1_000_000)


@given(width=_HUNDREDTHS, height=_HUNDREDTHS)
def test_what_is_written_reads_back(width: int, height: int) -> None:
    size = read_size(write_size(width / 100, height / 100))
    assert (size.width_mm, size.height_mm) == pytest.approx((width / 100, height / 100), abs=1e-6)


@given(
    width=_HUNDREDTHS,
    height=_HUNDREDTHS,
    unit=st.sampled_from(sorted(UNITS_MM)),
    comma=st.booleans(),
    space=st.sampled_from(["", " ", "  "]),
    times=st.sampled_from(["x", "X", "×", "*", " by "]),
    each=st.booleans(),
)
def test_every_way_of_writing_means_the_same(
    *, width: int, height: int, unit: str, comma: bool, space: str, times: str, each: bool
) -> None:
    numbers = [f"{number / 100:.2f}" for number in (width, height)]
    if comma:
        numbers = [number.replace(".", ",") for number in numbers]
    first = numbers[0] + (space + unit if each else "")
    size = read_size(f"{first}{space}{times}{space}{numbers[1]}{space}{unit}")
    wanted = (width / 100 * UNITS_MM[unit], height / 100 * UNITS_MM[unit])
    assert (size.width_mm, size.height_mm) == pytest.approx(wanted)


@given(st.text(max_size=80))
def test_any_text_is_a_size_or_a_reason(text: str) -> None:
    try:
        size = read_size(text)
    except SizeUnreadable:
        return
    assert size.width_mm > 0
    assert size.height_mm > 0


@given(width=_HUNDREDTHS, height=_HUNDREDTHS)
def test_turning_keeps_the_sides(width: int, height: int) -> None:
    size = read_size(f"{width}x{height}mm")
    flat, upright = size.landscape(), size.portrait()
    assert flat.width_mm >= flat.height_mm
    assert (flat.width_mm, flat.height_mm) == (upright.height_mm, upright.width_mm)
