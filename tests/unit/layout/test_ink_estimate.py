"""How ink is estimated for lines and tones: by worked cases, and which way it moves."""

from __future__ import annotations

import numpy as np
import pytest

from worker.layout.ink_estimate import values_coverage
from worker.layout.planning import plan_sheets
from worker.spec.spec import Outline, Spec, Support, Tone, Values
from worker.spec.study import DetailLevel, ReferenceStudy


def study(line: float = 0.2) -> ReferenceStudy:
    """A reference of stripes, with so much line."""
    density = np.full((40, 60), line, np.float32)
    stripes = np.tile(np.repeat(np.array([40, 200], np.uint8), 8), (64, 6))
    level = DetailLevel(density=density, pixel_size_px=25.0)
    return ReferenceStudy(width_px=6000, height_px=4000, levels=(level,), thumb=stripes)


def ink(tone: Tone, line: float = 0.2) -> float:
    spec = Spec(support=Support(width_mm=600, height_mm=400), tone=tone)
    return plan_sheets(spec, study(line)).mean_coverage


def test_lines_take_a_fraction_of_a_grey_pictures_ink() -> None:
    assert ink(Tone(full_strength=True)) == pytest.approx(1 - 120 / 255, abs=0.01)
    assert ink(Tone()) == pytest.approx(0.65 * (1 - 120 / 255), abs=0.01)
    assert 0 < ink(Tone(style="outline")) < 0.1


def test_more_detail_heavier_lines_and_more_to_draw_take_more() -> None:
    usual = ink(Tone(style="outline"))
    assert ink(Tone(style="outline", outline=Outline(detail=0.8))) > usual
    assert ink(Tone(style="outline", outline=Outline(detail=0.1))) < usual
    assert ink(Tone(style="outline"), line=0.05) < usual
    heavier = ink(Tone(style="outline", outline=Outline(line_mm=0.7)))
    assert heavier == pytest.approx(2 * usual)


def test_lightening_changes_nothing_of_lines() -> None:
    assert ink(Tone(style="outline", lighten=0.5)) == ink(Tone(style="outline"))


def test_mixed_is_the_pale_grey_and_the_lines_over_it() -> None:
    pale, lines = 0.35 * (1 - 120 / 255), ink(Tone(style="outline"))
    assert ink(Tone(style="mixed")) == pytest.approx(pale + (1 - pale) * lines, abs=0.01)


def test_a_blank_photo_has_a_plan_in_every_style() -> None:
    blank = ReferenceStudy(
        width_px=600,
        height_px=400,
        levels=(DetailLevel(density=np.zeros((4, 6), np.float32), pixel_size_px=25.0),),
        thumb=np.full((1, 2), 255, np.uint8),
    )
    for style in ("outline", "mixed", "values"):
        spec = Spec(support=Support(width_mm=200, height_mm=150), tone=Tone(style=style))
        assert plan_sheets(spec, blank).mean_coverage == pytest.approx(0.0, abs=0.001)


def test_two_tones_are_stretched_to_the_paper() -> None:
    """Half 40, half 200: the lighter becomes paper, the darker keeps its grey."""
    halves = np.repeat(np.array([40, 200], np.uint8), 50)
    found = values_coverage(halves, 3, (0.5, 0.9))
    assert found == pytest.approx(
        0.5 * (1 - 40 / 255) + 0.5 * (1 - np.interp(200, (40, 242.25), (40, 255)) / 255)
    )
    assert values_coverage(halves, 2, None) == pytest.approx(0.5 * (1 - 40 / 255))


def test_thresholds_given_by_hand_count() -> None:
    dark = ink(Tone(style="values", values=Values(count=3, thresholds=(0.8, 0.9))))
    light = ink(Tone(style="values", values=Values(count=3, thresholds=(0.05, 0.1))))
    assert light < dark
