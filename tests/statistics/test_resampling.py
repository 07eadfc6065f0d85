from __future__ import annotations

import numpy as np
import pytest

from plotmap.statistics import rescaled_weights


@pytest.mark.parametrize("n", [2, 3, 20])
@pytest.mark.parametrize("fraction", [0.0, 0.5, 1.0])
def test_weights_sum_to_the_plots_and_are_never_negative(n: int, fraction: float) -> None:
    weights = rescaled_weights(n, 200, [1], fraction)
    assert weights.shape == (n, 200)
    assert weights.sum(axis=0) == pytest.approx(np.full(200, n))
    assert weights.min() >= -1e-12


def test_a_population_that_was_seen_whole_has_no_error() -> None:
    assert rescaled_weights(4, 10, [1], 1.0) == pytest.approx(np.ones((4, 10)))


def test_one_seed_gives_one_answer() -> None:
    one, again, other = (rescaled_weights(5, 50, seed) for seed in ([1, 7], [1, 7], [1, 8]))
    assert (one == again).all()
    assert (one != other).any()


def test_one_plot_is_refused() -> None:
    with pytest.raises(ValueError, match="n is 1, but must be 2 or more"):
        rescaled_weights(1, 10, [1])
