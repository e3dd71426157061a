"""How the benchmark measures agreement with a map of edges, and how it draws equal lengths."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar, cast

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from tests.bench.opinion import agreement, harmonic, shares_matched, shares_near, thinned
from tests.bench.photo_lines import Photo, heaviest, taken, total_mm
from tests.pictures.photographs import photographs
from worker.reference.master import Master
from worker.spec.spec import Area
from worker.spec.strokes import FORM, INNER, PLAIN, Strokes


def along(y_mm: float) -> np.ndarray:
    """A level line, 100 mm long."""
    x = np.arange(0, 100, 0.5)
    return np.stack((x, np.full_like(x, y_mm)), axis=1)


def test_a_ridge_is_thinned_to_its_middle_with_its_strength() -> None:
    strip = np.zeros((40, 60))
    strip[20] = 1.0
    strip = gaussian_filter(strip, 2.0)
    places, strength = thinned(strip / strip.max() * 0.7)
    assert sorted({y for _, y in places[strength > 0.3].tolist()}) == [20.5]
    assert len(places[strength > 0.3]) == 60
    assert strength.max() == pytest.approx(0.7)


def test_shares_count_what_is_near_and_matches_count_it_once() -> None:
    ridges = along(10.0)
    double = np.concatenate((along(9.5), along(10.5)))
    missing = np.concatenate((along(10.0), along(50.0)))
    assert shares_near(along(12.9), ridges, 3.0) == (1.0, 1.0)
    assert shares_near(along(13.1), ridges, 3.0) == (0.0, 0.0)
    assert shares_near(missing, ridges, 3.0) == (0.5, 1.0)
    assert shares_near(ridges, missing, 3.0) == (1.0, 0.5)
    assert shares_near(double, ridges, 3.0) == (1.0, 1.0)
    assert shares_matched(double, ridges, 3.0) == (0.5, 1.0)
    assert shares_near(along(0)[:0], ridges, 3.0) == (0.0, 0.0)
    assert harmonic(0.5, 1.0) == pytest.approx(2 / 3)


def test_of_too_much_line_the_heaviest_and_longest_stays() -> None:
    curves = np.arange(5 * 8, dtype=np.float32).reshape(5, 4, 2)
    strokes = Strokes(
        curves_mm=curves,
        first=np.array([0, 1, 3, 4, 5], np.int32),
        weight=np.array([INNER, FORM, PLAIN, FORM], np.uint8),
        length_mm=np.array([40, 10, 20, 15], np.float32),
    )
    kept = heaviest(strokes, 46.0)
    assert kept.weight.tolist() == [FORM, PLAIN, FORM]
    assert kept.length_mm.tolist() == [10, 20, 15]
    assert np.array_equal(kept.curves_mm, curves[1:])
    assert kept.first.tolist() == [0, 2, 3, 4]


def test_a_disc_agrees_with_its_own_edge_and_not_with_another(tmp_path: Path) -> None:
    photo, edges = Image.new("L", (600, 400), 210), Image.new("L", (600, 400))
    ImageDraw.Draw(photo).ellipse((200, 100, 400, 300), 60)
    ImageDraw.Draw(edges).ellipse((200, 100, 400, 300), outline=255, width=2)
    photo.save(tmp_path / "disc.png")
    (tmp_path / "opinion").mkdir()
    aside = Image.fromarray(np.roll(np.asarray(edges), 60, axis=1))
    turned = edges.rotate(180)
    with taken(tmp_path / "disc.png") as photo_taken:
        for shown, least, most in ((edges, 0.98, 1.0), (turned, 0.98, 1.0), (aside, 0.0, 0.2)):
            shown.save(tmp_path / "opinion" / "disc.png")
            row = agreement(tmp_path / "disc.png", photo_taken, 0.5, None)
            assert least <= row.f <= most


class Drawn(Photo):
    """A photograph whose strokes are each a metre, as many as detail says, and what was asked."""

    asked: ClassVar[list[float]] = []

    def outlines(self, detail: float) -> Strokes:
        self.asked.append(detail)
        count = round(detail * 200) if detail != 0.375 else 71
        return Strokes(
            curves_mm=np.zeros((count, 4, 2), np.float32),
            first=np.arange(count + 1, dtype=np.int32),
            weight=np.full(count, PLAIN, np.uint8),
            length_mm=np.full(count, 1000.1, np.float32),
        )


def test_lines_of_the_length_at_a_detail_are_those_of_that_detail(tmp_path: Path) -> None:
    photo = Drawn(tmp_path, cast("Master", None), Area(left=0, top=0, width=1, height=1), 600, 400)
    length_mm = total_mm(photo.outlines(0.35))
    # As a file of lengths keeps it, and added up in another order.
    for kept in (length_mm, length_mm * (1 + 1e-12), length_mm * (1 - 1e-12)):
        strokes, detail = photo.outlines_of(kept, first=0.35)
        assert (len(strokes), detail) == (70, 0.35)
    # A search takes what it comes to first that is near enough.
    assert photo.outlines_of(length_mm)[1] == 0.375
    # What has less or far more at that detail is searched.
    Drawn.asked.clear()
    assert photo.outlines_of(1.1 * length_mm, first=0.35)[1] > 0.35
    assert photo.outlines_of(0.9 * length_mm, first=0.35)[1] < 0.35
    assert Drawn.asked.count(0.35) == 2


def test_any_photograph_is_drawn_at_a_length_that_is_asked_for(tmp_path: Path) -> None:
    Image.fromarray(photographs()["coffee"]).reduce(2).save(tmp_path / "coffee.png")
    with taken(tmp_path / "coffee.png") as photo:
        strokes, detail = photo.outlines_of(6000.0)
        every, most = photo.outlines_of(1e6)
    assert 0.9 * 6000.0 < total_mm(strokes) <= 6000.0
    assert 0 < detail < 1
    assert total_mm(every) > 6000.0
    assert most == 1.0
