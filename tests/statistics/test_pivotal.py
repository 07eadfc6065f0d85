"""Spatially balanced samples: exact inclusion probabilities, fixed size, neighbours apart."""

from __future__ import annotations

from functools import partial

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics.draws import uniforms
from plotmap.statistics.pivotal import local_pivotal

PLACES = np.column_stack([uniforms(1, (8,), 40), uniforms(1, (9,), 40)])


def _draw(seed: int, turn: int, n: int) -> np.ndarray:
    return uniforms(seed, (turn,), n)


def _samples(probabilities, places, runs: int) -> np.ndarray:
    return np.array([local_pivotal(probabilities, places, partial(_draw, seed)) for seed in range(runs)])


def test_every_unit_is_in_as_often_as_its_probability_says() -> None:
    # 2000 runs: the standardised frequencies of 40 units are within four standard errors, and not too alike either
    probabilities = np.tile([0.1, 0.25, 0.4, 0.25], 10)
    found = _samples(probabilities, PLACES, 2000).mean(axis=0)
    z = (found - probabilities) / np.sqrt(probabilities * (1 - probabilities) / 2000)
    assert np.abs(z).max() < 4
    assert 0.5 < z.std() < 1.5


def test_the_sample_has_as_many_units_as_the_probabilities_add_up_to() -> None:
    assert (_samples(np.full(40, 1 / 8), PLACES, 50).sum(axis=1) == 5).all()
    broken = _samples(np.full(40, 0.14), PLACES, 200).sum(axis=1)  # 5.6 units
    assert set(broken) == {5, 6}
    assert broken.mean() == pytest.approx(5.6, abs=4 * 0.49 / 200**0.5)


def test_two_neighbours_are_hardly_ever_in_together() -> None:
    # pairs far from each other: each pair is decided by itself, one of the two being in (worked by hand)
    pairs = np.array([[0, 0], [0, 1], [100, 0], [100, 1], [0, 100], [0, 101.0]])
    found = _samples(np.full(6, 0.5), pairs, 60)
    assert (found.reshape(60, 3, 2).sum(axis=2) == 1).all()


def test_a_sample_is_spread_more_evenly_than_random_units_are() -> None:
    places = np.column_stack([uniforms(2, (0,), 1600), uniforms(2, (1,), 1600)])
    cell = (np.floor(places * 5) @ [5, 1]).astype(int)
    spread, random = [], []
    for seed in range(40):
        taken = local_pivotal(np.full(1600, 1 / 16), places, partial(_draw, seed))
        spread.append(np.bincount(cell[taken], minlength=25).var())
        chosen = np.argsort(uniforms(seed, (99,), 1600))[:100]
        random.append(np.bincount(cell[chosen], minlength=25).var())
    assert np.mean(spread) < 0.5 * np.mean(random)
    assert stats.ttest_ind(spread, random).pvalue < 1e-6


def test_units_on_one_place_and_certain_ones_are_no_trouble() -> None:
    assert local_pivotal(np.full(30, 0.5), np.zeros((30, 2)), partial(_draw, 1)).sum() == 15
    found = local_pivotal([0, 1, 0.5, 0.5], np.zeros((4, 2)), partial(_draw, 1))
    assert found[:2].tolist() == [False, True]
    assert found[2:].sum() == 1
    assert local_pivotal([], np.empty((0, 2)), partial(_draw, 1)).shape == (0,)


@pytest.mark.parametrize(
    ("probabilities", "places", "words"),
    [
        ([0.5], [[0, 0], [1, 1]], "one for each of 1 units"),
        ([0.5], [[0, np.nan]], "must be finite"),
        ([1.5], [[0, 0]], "must be 0 to 1"),
        ([np.nan], [[0, 0]], "must be 0 to 1"),
    ],
)
def test_what_cannot_be_is_refused(probabilities, places, words) -> None:
    with pytest.raises(ValueError, match=words):
        local_pivotal(probabilities, places, partial(_draw, 1))
