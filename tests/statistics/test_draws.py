"""Random numbers that can be drawn again."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from plotmap.statistics.draws import uniforms


def test_the_numbers_are_those_that_numpy_makes_of_the_generator() -> None:
    # numpy's own way to doubles today; ours does not depend on its staying so
    sequence = np.random.SeedSequence(7, spawn_key=(2, 5))
    np.testing.assert_array_equal(
        uniforms(7, (2, 5), 1000), np.random.Generator(np.random.PCG64(sequence)).random(1000)
    )


def test_more_numbers_begin_with_the_same_and_other_streams_and_seeds_are_others() -> None:
    first = uniforms(1, (0,), 10)
    np.testing.assert_array_equal(uniforms(1, (0,), 30)[:10], first)
    for other in (uniforms(1, (1,), 10), uniforms(1, (0, 0), 10), uniforms(2, (0,), 10)):
        assert not np.isin(other, first).any()


def test_they_are_even_over_zero_to_one() -> None:
    drawn = uniforms(3, (), 100_000)
    assert drawn.min() >= 0
    assert drawn.max() < 1
    assert stats.chisquare(np.histogram(drawn, 100, (0, 1))[0]).pvalue > 1e-4
    assert uniforms(3, (), 0).shape == (0,)


def test_negative_seeds_are_refused() -> None:
    with pytest.raises(ValueError, match="non-negative"):
        uniforms(-1, (0,), 1)
