"""Regions, in grids made for it."""

from __future__ import annotations

import numpy as np
import pytest

from worker.reading.regions.merging import Ints, Regions

#: Levels of grey, of the left half and of the right one.
LEFT, RIGHT, SHAPE = 100.0, 160.0, (20, 30)


def halves(noise: float = 0.0) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    values = np.full((*SHAPE, 1), LEFT, np.float32)
    values[:, 15:] = RIGHT
    return np.asarray(values + np.random.default_rng(1).normal(0, noise, values.shape), np.float32)


def merged(values: np.ndarray[tuple[int, ...], np.dtype[np.float32]], scale: float) -> Ints:
    nothing = np.zeros(SHAPE, np.float32)
    return Regions.squares(values, nothing).merged(scale)[1].reshape(SHAPE)


def test_two_halves_are_two_regions_in_spite_of_noise() -> None:
    label = merged(halves(noise=10), 5e3)
    assert len(np.unique(label)) == 2
    assert (label == np.where(np.arange(30) < 15, label[0, 0], label[0, 29])).all()


def test_they_merge_from_the_scale_on_at_which_that_saves_energy() -> None:
    """|A| |B| / (|A| + |B|) of the squared difference, in parts of the border's length.

    By Koepfler, Lopez and Morel 1994.
    """
    scale = 300 * 300 / 600 * (RIGHT - LEFT) ** 2 / 20
    assert len(np.unique(merged(halves(), 0.99 * scale))) == 2
    assert len(np.unique(merged(halves(), 1.01 * scale))) == 1


def test_a_border_with_a_contour_withstands_longer() -> None:
    contour = np.zeros(SHAPE, np.float32)
    contour[:, 14:16] = 0.5
    scale = 300 * 300 / 600 * (RIGHT - LEFT) ** 2 / 20
    with_contour = Regions.squares(halves(), contour)
    assert len(with_contour.merged(1.5 * scale)[0].size) == 2
    assert len(with_contour.merged(2.0 * scale)[0].size) == 1


def test_regions_have_the_means_and_sizes_of_their_squares() -> None:
    values = halves(noise=10)
    regions, label = Regions.squares(values, np.zeros(SHAPE, np.float32)).merged(5e3)
    for number in range(2):
        assert regions.size[number] == (label == number).sum() == 300
        assert np.isclose(regions.mean[number, 0], values.ravel()[label == number].mean())
    assert (regions.one.tolist(), regions.two.tolist()) == ([0], [1])
    assert np.isclose(regions.border[0], 20)


def test_specks_on_a_plain_merge_in_few_rounds(monkeypatch: pytest.MonkeyPatch) -> None:
    """One by one, as the plain is the best neighbour of all, they would take 900."""
    values = np.full((120, 120, 1), 100.0, np.float32)
    specks = values[2::4, 2::4, 0]
    specks += np.linspace(5, 25, specks.size, dtype=np.float32).reshape(specks.shape)
    rounds = []
    once = Regions._numbered

    def counted(regions: Regions, new: Ints) -> Regions:
        rounds.append(new)
        return once(regions, new)

    monkeypatch.setattr(Regions, "_numbered", counted)
    regions, _ = Regions.squares(values, np.zeros((120, 120), np.float32)).merged(1e3)
    assert len(regions.size) == 1
    assert len(rounds) < 60
