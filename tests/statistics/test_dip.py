"""The dip against its definition, solved as a linear programme, and its table against uniform samples."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from plotmap.statistics import dip_of_classes, dip_p


def dip_by_definition(x: np.ndarray, f: np.ndarray) -> float:
    """Return the smallest d for which a function within d of f is convex up to a mode and concave from it on."""
    k = len(x)
    return min(_with_mode(x, f, mode) for mode in range(k))


def _with_mode(x: np.ndarray, f: np.ndarray, mode: int) -> float:
    """Return the smallest d for one mode: the unknowns are the values left, right of the mode, and d."""
    n_left, n_right = mode + 1, len(x) - mode
    n = n_left + n_right + 1
    above, below = [], []

    def row(**entries: float) -> None:
        line = np.zeros(n)
        for place, value in entries.items():
            line[int(place[1:])] = value
        above.append(line)

    knots = [*range(n_left), *range(mode, len(x))]
    for place, knot in enumerate(knots):
        row(**{f"v{place}": 1.0, f"v{n - 1}": -1.0})
        below.append(f[knot])
        row(**{f"v{place}": -1.0, f"v{n - 1}": -1.0})
        below.append(-f[knot])
    for first, count, sign in ((0, n_left, 1.0), (n_left, n_right, -1.0)):
        for i in range(first + 1, first + count - 1):
            one, other = x[knots[i]] - x[knots[i - 1]], x[knots[i + 1]] - x[knots[i]]
            row(
                **{
                    f"v{i - 1}": -sign / one,
                    f"v{i}": sign * (1 / one + 1 / other),
                    f"v{i + 1}": -sign / other,
                }
            )
            below.append(0.0)
    for i in range(len(knots) - 1):
        row(**{f"v{i}": 1.0, f"v{i + 1}": -1.0})
        below.append(0.0)
    cost = np.zeros(n)
    cost[-1] = 1.0
    found = linprog(cost, A_ub=np.array(above), b_ub=below, bounds=[(None, None)] * (n - 1) + [(0, None)])
    assert found.success
    return float(found.fun)


@pytest.mark.parametrize("seed", range(8))
def test_the_dip_is_the_distance_to_the_nearest_distribution_with_one_peak(seed: int) -> None:
    rng = np.random.default_rng(seed)
    share = rng.gamma(0.7, size=rng.integers(3, 10))
    share /= share.sum()
    edges = np.concatenate(([0.0], np.cumsum(rng.uniform(0.5, 2.0, len(share)))))
    expected = dip_by_definition(edges, np.concatenate(([0.0], np.cumsum(share))))
    assert dip_of_classes(edges, share) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("share", [[1.0], [0.5, 0.3, 0.2], [0.1, 0.4, 0.3, 0.2], [0.2, 0.2, 0.6]])
def test_one_peak_has_no_dip(share: list[float]) -> None:
    assert dip_of_classes(range(len(share) + 1), share) == pytest.approx(0.0, abs=1e-12)


def test_two_far_peaks_have_almost_the_largest_dip_there_is() -> None:
    """Hartigan & Hartigan 1985: at most a quarter, for two halves far apart."""
    assert dip_of_classes([0, 1, 1000, 1001], [0.5, 0.0, 0.5]) == pytest.approx(0.25, abs=1e-3)


def test_uniform_samples_exceed_the_tabulated_levels_as_often_as_they_say() -> None:
    rng = np.random.default_rng(20)
    edges = np.linspace(0.0, 1.0, 401)
    n = 200
    dips = [dip_of_classes(edges, np.histogram(rng.random(n), edges)[0] / n) for _ in range(150)]
    p = dip_p(dips, n)
    for level in (0.1, 0.2, 0.5):
        assert (p <= level).mean() == pytest.approx(level, abs=4 * np.sqrt(level * (1 - level) / len(p)))


def test_p_values_lie_between_the_ends_of_the_table_and_are_missing_where_the_dip_is() -> None:
    p = dip_p([0.0, 0.01, 0.05, 0.25, np.nan], 200)
    assert p[:2].tolist() == [1.0, 1.0]
    assert 0.0001 < p[2] < 0.05
    assert p[3] == pytest.approx(0.0001)
    assert np.isnan(p[4])


@pytest.mark.parametrize(
    ("edges", "share", "match"),
    [
        ([0, 1], [0.5, 0.5], "edges must rise and be one more"),
        ([0, 1, 1], [0.5, 0.5], "edges must rise and be one more"),
        ([0, 1, 2], [0.5, 0.6], "shares must be 0 or more and add up to 1"),
        ([0, 1, 2], [1.5, -0.5], "shares must be 0 or more and add up to 1"),
    ],
)
def test_shares_that_are_none_are_refused(edges, share, match) -> None:
    with pytest.raises(ValueError, match=match):
        dip_of_classes(edges, share)


def test_narrowing_ends_where_minorant_and_majorant_run_side_by_side() -> None:
    # equal gaps between the corners of both, told apart by round-off only, once went on for ever
    rng = np.random.default_rng(9)
    for k in range(3, 16):
        for _ in range(300):
            parts = rng.integers(0, 4, k).astype(float)
            if parts.sum() == 0:
                continue
            edges = 7.0 + 5.0 * np.arange(k + 1)
            assert 0 <= dip_of_classes(edges, parts / parts.sum()) <= 0.25
