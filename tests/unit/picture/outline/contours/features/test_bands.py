"""Bands across a part of a picture: the best one, and fair lines."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from worker.picture.outline.contours.features.bands import (
    Band,
    Bending,
    best_band,
    closed_path,
    fair,
    fair_ring,
)


def worth_of(band: Band, worth: np.ndarray, bending: Bending) -> float:
    """What a band is worth, counted place by place."""
    costs = bending.of_row * np.abs(np.diff(band.first)).sum()
    costs += bending.of_kind * np.abs(np.diff(band.kind)).sum()
    return float(worth[band.first, band.columns, band.kind].sum() - costs)


def best_by_trying(worth: np.ndarray, bending: Bending) -> float:
    """The best of all bands of any columns, by trying each."""
    rows, columns, kinds = worth.shape
    states = list(itertools.product(range(rows), range(kinds)))
    best = -np.inf
    for first, last in itertools.combinations_with_replacement(range(columns), 2):
        for way in itertools.product(states, repeat=last - first + 1):
            row, kind = np.array(way).T
            steep = np.abs(np.diff(row)).max(initial=0) > bending.rows
            wide = np.abs(np.diff(kind)).max(initial=0) > bending.kinds
            if not steep and not wide:
                band = Band(columns=np.arange(first, last + 1), first=row, kind=kind, worth=0.0)
                best = max(best, worth_of(band, worth, bending))
    return best


@pytest.mark.parametrize("seed", range(6))
def test_the_best_of_all_bands_is_found(seed: int) -> None:
    worth = np.random.default_rng(seed).normal(0, 2, (3, 4, 2)).astype(np.float32)
    bending = Bending(rows=1, kinds=1, of_row=0.7, of_kind=0.4)
    band = best_band(worth, bending)
    assert np.array_equal(np.diff(band.columns), np.ones(len(band.columns) - 1))
    assert np.abs(np.diff(band.first)).max(initial=0) <= bending.rows
    assert worth_of(band, worth, bending) == pytest.approx(band.worth, abs=1e-5)
    assert band.worth == pytest.approx(best_by_trying(worth, bending), abs=1e-5)


def test_what_weighs_less_moves_more() -> None:
    values = np.where(np.arange(60) % 2, 1.0, 0.0)
    # Every second place is not believed.
    weight = np.where(np.arange(60) % 2, 1e-6, 1.0)
    assert np.abs(fair(values, 6.0, weight)).max() < 1e-3
    assert fair(values, 6.0).mean() == pytest.approx(0.5, abs=0.01)


def test_lines_that_weigh_alike_are_fair_together_as_each_alone() -> None:
    random = np.random.default_rng(4)
    lines, weight = random.normal(0, 1, (2, 50)), random.uniform(0.01, 1, 50)
    alone = [fair(line, 8.0, weight) for line in lines]
    assert np.allclose(fair(lines, 8.0, weight), alone, rtol=0, atol=1e-12)


def test_a_fair_line_keeps_parabolas_and_ends_that_are_held() -> None:
    at = np.linspace(-1, 1, 41)
    parabola = 3 * at**2 - at + 2
    assert np.abs(fair(parabola, 40.0) - parabola).max() < 1e-6
    noisy = parabola + np.random.default_rng(1).normal(0, 0.3, 41)
    steady = fair(noisy, 40.0, held=True)
    assert np.abs(steady - noisy)[[0, -1]].max() < 1e-3
    assert np.abs(steady - parabola)[5:-5].std() < 0.2


def test_waves_of_the_length_are_halved_and_short_ones_go() -> None:
    at = np.arange(400)
    for length, share in ((20, 0.5), (5, 0.0), (80, 1.0)):
        wave = np.sin(2 * np.pi * at / length)
        inner = slice(100, 300)
        left = fair(wave, 20.0)[inner].std() / wave[inner].std()
        assert left == pytest.approx(share, abs=0.05)


def test_a_fair_line_solves_the_equations_of_its_graduation() -> None:
    """Against a general solver: (W + λ D'D) z = W y, with third differences D."""
    drawn = np.random.default_rng(3)
    values, weight = drawn.normal(size=40), drawn.uniform(0.1, 2.0, 40)
    third = np.diff(np.eye(40), 3, axis=0)
    bent = (7.0 / (2 * np.pi)) ** 6 * third.T @ third
    for given in (None, weight):
        held = np.ones(40) if given is None else given
        known = np.linalg.solve(np.diag(held) + bent, held * values)
        assert np.allclose(fair(values, 7.0, given), known, atol=1e-9)


def test_a_path_round_a_ring_has_no_first_column() -> None:
    turn = np.arange(24) / 24 * 2 * np.pi
    middle = 5 + 2.4 * np.sin(turn)
    worth = -np.abs(np.arange(11)[:, None] - middle).astype(np.float32)
    path = closed_path(worth, 0.1)
    assert np.abs(path - middle).max() <= 0.6
    for by in (5, 12, 20):
        assert np.array_equal(closed_path(np.roll(worth, by, axis=1), 0.1), np.roll(path, by))


def test_a_fair_ring_is_a_fair_line_that_goes_on_round() -> None:
    values = np.random.default_rng(4).normal(0, 1, 60)
    # Many turns of it, of which the ends are far from the middle one.
    turns = fair(np.tile(values, 5), 10.0)
    assert np.allclose(fair_ring(values, 10.0), turns[120:180], atol=1e-3)
    assert np.allclose(fair_ring(np.roll(values, 7), 10.0), np.roll(fair_ring(values, 10.0), 7))
