"""Parting lines: at their place, of one width, in a tone that shows, and nowhere else."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from worker.picture.tones.parting_lines import (
    PartingLines,
    draw_lines,
    parting_lines,
    standing_out,
)

Bytes = npt.NDArray[np.uint8]
#: 100 × 80 mm in cells of half a millimetre, drawn at ten pixels per millimetre.
CELLS, PX = (160, 200), 5


def disc() -> npt.NDArray[np.uint16]:
    """A region of 50 mm across in the middle."""
    y, x = np.mgrid[0 : CELLS[0], 0 : CELLS[1]]
    return (np.hypot(x + 0.5 - 100, y + 0.5 - 80) < 50).astype(np.uint16)


def lines_of(tones: Bytes) -> PartingLines | None:
    return parting_lines(tones, disc(), cell_mm=0.5, map_px_mm=0.9, width_mm=0.5)


def drawn(lines: PartingLines, tone: int, box: tuple[int, int, int, int]) -> Bytes:
    pixels = np.full(((box[3] - box[1]) * PX, (box[2] - box[0]) * PX), tone, np.uint8)
    draw_lines(pixels, 5, lines, tuple(float(side) for side in box), 1.0)  # type: ignore[arg-type]
    return pixels


@pytest.mark.parametrize("tone", range(5))
def test_a_line_runs_along_the_contour_in_one_width(tone: int) -> None:
    lines = lines_of(np.full(CELLS, tone, np.uint8))
    assert lines is not None
    pixels = drawn(lines, tone, (0, 0, 200, 160))
    line = pixels != tone
    assert set(np.unique(pixels[line]).tolist()) == {4 if tone <= 2 else 0}
    y, x = np.nonzero(line)
    away_mm = np.hypot(x + 0.5 - 500, y + 0.5 - 400) / 10
    assert away_mm.mean() == pytest.approx(25.0, abs=0.15)
    assert np.abs(away_mm - 25.0).max() < 0.6
    # Its area is its length times its width.
    assert line.sum() / 100 == pytest.approx(2 * np.pi * 25.0 * 0.5, rel=0.1)


def test_lines_continue_each_other_over_seams() -> None:
    lines = lines_of(np.zeros(CELLS, np.uint8))
    assert lines is not None
    whole = drawn(lines, 0, (0, 0, 200, 160))
    for box in ((0, 0, 61, 50), (61, 0, 200, 50), (0, 50, 61, 160), (61, 50, 200, 160)):
        part = whole[box[1] * PX : box[3] * PX, box[0] * PX : box[2] * PX]
        assert np.array_equal(drawn(lines, 0, box), part)


def test_where_tones_part_there_is_no_line() -> None:
    assert lines_of(disc().astype(np.uint8)) is None


def test_patches_of_one_tone_need_no_more_fields_than_a_map_needs_colours() -> None:
    """Four colours are enough for any map (Appel and Haken 1977): two bits, two fields."""
    y, x = np.mgrid[0 : CELLS[0], 0 : CELLS[1]]
    seeds = np.random.default_rng(5).uniform((0, 0), CELLS, (60, 2))
    far = np.hypot(y[..., None] - seeds[:, 0], x[..., None] - seeds[:, 1])
    regions = far.argmin(axis=2).astype(np.uint16)
    one_tone = np.zeros(CELLS, np.uint8)
    lines = parting_lines(one_tone, regions, cell_mm=0.5, map_px_mm=0.9, width_mm=0.5)
    assert lines is not None
    assert len(lines.fields) == 2
    side = np.stack(lines.fields) < 0
    inside = [tuple(np.argwhere(regions == patch).mean(axis=0).astype(int)) for patch in range(60)]
    for before, after in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        pairs = np.stack((regions[before].ravel(), regions[after].ravel()), axis=1)
        for one, other in np.unique(pairs[pairs[:, 0] != pairs[:, 1]], axis=0):
            assert (side[(..., *inside[one])] != side[(..., *inside[other])]).any()


def test_each_tone_has_one_that_stands_out_from_it() -> None:
    for count in range(3, 8):
        far = standing_out(count).astype(int)
        assert np.all(np.abs(far - np.arange(count)) >= count // 2)
