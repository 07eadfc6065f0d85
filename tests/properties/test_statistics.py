"""What holds for every sample, not only for those in books."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plotmap.statistics import combine, linear_density, mean_estimate, ratio_of_means, t_interval

values = st.lists(st.floats(0, 1000).map(lambda v: round(v, 3)), min_size=2, max_size=30)
sizes = st.floats(0.01, 5).map(lambda v: round(v, 3))


@st.composite
def plots(draw) -> tuple[np.ndarray, np.ndarray]:
    """Draw values with the size of each unit."""
    y = draw(values)
    return np.array(y), np.array(draw(st.lists(sizes, min_size=len(y), max_size=len(y))))


@settings(deadline=None)
@given(plots(), st.floats(0.001, 1000))
def test_scaling_the_values_scales_estimate_and_error(sample, factor) -> None:
    y, x = sample
    one, scaled = ratio_of_means(y, x), ratio_of_means(factor * y, x)
    assert scaled.mean == pytest.approx(factor * one.mean)
    assert scaled.se == pytest.approx(factor * one.se, rel=1e-6, abs=1e-6 * factor)


@settings(deadline=None)
@given(plots(), st.floats(0.001, 1000))
def test_scaling_the_sizes_divides_the_estimate(sample, factor) -> None:
    y, x = sample
    one, scaled = ratio_of_means(y, x), ratio_of_means(y, factor * x)
    assert scaled.mean == pytest.approx(one.mean / factor)
    assert scaled.se == pytest.approx(one.se / factor, rel=1e-6, abs=1e-6 / factor)


@settings(deadline=None)
@given(plots(), st.randoms())
def test_the_order_of_plots_does_not_matter(sample, random) -> None:
    y, x = sample
    order = list(range(len(y)))
    random.shuffle(order)
    one, other = ratio_of_means(y, x), ratio_of_means(y[order], x[order])
    assert other.mean == pytest.approx(one.mean)
    assert other.se == pytest.approx(one.se, rel=1e-6, abs=1e-9)


@settings(deadline=None)
@given(values, st.floats(0.1, 10))
def test_equal_sizes_give_the_simple_random_sample(y, size) -> None:
    ratio, mean = ratio_of_means(y, np.full(len(y), size)), mean_estimate(y)
    assert ratio.mean * size == pytest.approx(mean.mean)
    assert ratio.se * size == pytest.approx(mean.se, rel=1e-6, abs=1e-9)
    assert mean.se == pytest.approx(np.std(y, ddof=1) / len(y) ** 0.5, abs=1e-9)


@settings(deadline=None)
@given(values, st.floats(0.5, 0.998))
def test_the_interval_holds_the_mean_and_widens_with_confidence(y, confidence) -> None:
    estimate = mean_estimate(y)
    low, high = t_interval(estimate.mean, estimate.se, estimate.df, confidence)
    wider_low, wider_high = t_interval(estimate.mean, estimate.se, estimate.df, confidence + 0.001)
    assert 0 <= wider_low <= low <= estimate.mean <= high <= wider_high


@settings(deadline=None)
@given(st.floats(0.01, 1000), st.floats(-1000, 1000), st.floats(0.001, 1000), st.integers(1, 200))
def test_a_group_of_one_row_is_that_row(weight, mean, se, df) -> None:
    total, error, freedom = combine([weight], [mean], [se], [df], [0], 1)
    assert total[0] == pytest.approx(weight * mean)
    assert error[0] == pytest.approx(weight * se)
    assert freedom[0] == pytest.approx(df)


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.1, 10), st.floats(0.01, 10), st.integers(1, 50)), min_size=1, max_size=8)
)
def test_combined_degrees_of_freedom_lie_between_the_smallest_and_the_sum(rows) -> None:
    weights, ses, dfs = (np.array(part, float) for part in zip(*rows, strict=True))
    _, _, df = combine(weights, np.ones(len(rows)), ses, dfs, np.zeros(len(rows), int), 1)
    assert dfs.min() * (1 - 1e-9) <= df[0] <= dfs.sum() * (1 + 1e-9)


@st.composite
def tallies(draw) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Draw classes with or without gaps, and counts."""
    steps = draw(st.lists(st.floats(0.5, 20), min_size=2, max_size=12))
    edges = np.cumsum(steps)
    keep = np.array(draw(st.lists(st.booleans(), min_size=len(edges) - 1, max_size=len(edges) - 1)))
    keep[0] = True
    count = np.array(draw(st.lists(st.integers(0, 500), min_size=len(edges) - 1, max_size=len(edges) - 1)))
    return edges[:-1][keep], edges[1:][keep], count[keep]


@settings(deadline=None)
@given(tallies(), st.data())
def test_parts_of_a_class_add_up_to_the_class(tally, data) -> None:
    low, high, count = tally
    row = data.draw(st.integers(0, len(low) - 1))
    inner = sorted(data.draw(st.lists(st.floats(0, 1), max_size=5)))
    cuts = np.clip(low[row] + np.array([0.0, *inner, 1.0]) * (high[row] - low[row]), low[row], high[row])
    density = linear_density(low, high, count)
    share, mean, square = density.parts(cuts[:-1], cuts[1:], np.full(len(cuts) - 1, row))
    _, whole_mean, whole_square = density.parts(low[[row]], high[[row]], [row])
    assert share.sum() == pytest.approx(1.0)
    assert (share * mean).sum() == pytest.approx(whole_mean[0])
    assert (share * square).sum() == pytest.approx(whole_square[0])


@settings(deadline=None)
@given(tallies())
def test_sizes_stay_in_their_class_and_the_density_is_nowhere_negative(tally) -> None:
    low, high, count = tally
    density = linear_density(low, high, count)
    share, mean, square = density.parts(low, high, np.arange(len(low)))
    np.testing.assert_allclose(share, 1.0)
    assert ((low < mean) & (mean < high)).all()
    assert (square >= mean**2).all()
    at_ends = np.abs(density.slope) * (high - low) / 2
    assert (at_ends <= count / (high - low) * (1 + 1e-12)).all()
