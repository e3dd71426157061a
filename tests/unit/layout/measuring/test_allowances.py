"""What lengths may be off: one number, the root of the seams, damp, and a rule."""

from __future__ import annotations

import pytest

from worker.layout.measuring.allowances import PAPER_GROWS, READING_ERROR_MM, Allowances


@pytest.mark.parametrize(
    ("length_mm", "seams", "off_mm"),
    [
        # A millimetre in 600, and 0.05 % of damp, squared and added: 1.037 mm, rounded down.
        (600, 0, 1.0),
        # Two seams of 0.3 mm by eye: 1.120 mm, rounded up.
        (600, 2, 1.2),
        (600, 18, 1.7),
        (400, 1, 0.8),
        (3000, 10, 5.3),
        (277, 0, 0.4),
        (200, 0, 0.3),
        # No rule shows less.
        (100, 0, 0.2),
        (10, 0, 0.2),
        (10, 1, 0.4),
    ],
)
def test_it_is_a_millimetre_in_600_and_little_for_seams_and_damp(
    length_mm: float, seams: int, off_mm: float
) -> None:
    assert Allowances().off_mm(length_mm, seams) == off_mm


def test_one_number_moves_all_of_it() -> None:
    assert Allowances(within_mm=2).off_mm(600) == 2.0
    assert Allowances(within_mm=2).off_mm(300) == 1.0
    assert Allowances(within_mm=0.25).off_mm(200) == 0.2


def test_damp_is_that_of_bond_paper_in_a_room() -> None:
    """0.2 to 0.4 % across the grain from 33 to 66 % of humidity; a room changes by some 5 %."""
    assert 0.002 / 33 * 5 < PAPER_GROWS < 0.004 / 33 * 5


def test_a_short_length_does_not_vouch_for_a_long_one() -> None:
    """Half millimetres are read to the nearest (common practice)."""
    usual = Allowances()
    assert READING_ERROR_MM == 0.25
    # 0.25 mm on 100 mm is 1.5 mm on 600.
    assert not usual.tells(100, 600, 2)
    assert not usual.tells(44, 600, 2)
    assert usual.tells(190, 600, 2)
    assert usual.tells(190, 190, 0)
    assert not Allowances(within_mm=0.5).tells(170, 600, 2)
