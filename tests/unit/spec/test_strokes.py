"""Weights of lines: steps of ISO 9175-1."""

from __future__ import annotations

from itertools import pairwise

import pytest

from worker.spec.strokes import PEN_WIDTHS_MM, line_widths_mm


def test_pens_are_those_of_iso_9175_1() -> None:
    """Each is the one before times the root of two, rounded (ISO 9175-1; from memory)."""
    assert PEN_WIDTHS_MM == (0.13, 0.18, 0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0)
    for fine, broad in pairwise(PEN_WIDTHS_MM):
        assert broad / fine == pytest.approx(2**0.5, rel=0.04)


@pytest.mark.parametrize(
    ("line_mm", "widths"),
    [
        (0.35, (0.18, 0.35, 0.7, 0.18)),
        (0.13, (0.13, 0.13, 0.25, 0.13)),
        (2.0, (1.0, 2.0, 2.0, 1.0)),
    ],
)
def test_form_is_twice_as_wide_and_inner_half_as_wide(
    line_mm: float, widths: tuple[float, float, float, float]
) -> None:
    assert line_widths_mm(line_mm) == widths
