"""Quiet seams spare line on photographs that others chose, by our map and by Canny's edges."""

from __future__ import annotations

from tests.bench.seams import rows

#: Fewer pixels under even seams are a crater or two, and one more of them is no measure.
FEW_PX = 500


def test_quiet_seams_hide_clearly_less_line_than_even_ones() -> None:
    found = rows()
    assert len(found) >= 12
    for row in found:
        assert row.quiet_cm < 0.9 * row.even_cm, row
        assert row.canny_quiet < max(row.canny_even, FEW_PX), row
    assert sum(row.quiet_cm for row in found) < 0.75 * sum(row.even_cm for row in found)
    assert sum(row.staggered_cm for row in found) < 0.75 * sum(row.even_cm for row in found)
    assert sum(row.canny_quiet for row in found) < 0.85 * sum(row.canny_even for row in found)
