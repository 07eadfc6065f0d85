"""What must hold for every Weibull fit and dip: units, order, weights, and classes that get narrow."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plotmap.statistics import dip_of_classes, dip_p, fit_weibull, sizes_of

seeds = st.integers(0, 10_000)


def sample(seed: int, n: int = 60) -> np.ndarray:
    """Return sizes of some Weibull."""
    rng = np.random.default_rng(seed)
    return rng.uniform(5, 50) * rng.weibull(rng.uniform(0.8, 4.0), n) + 1e-3


@settings(max_examples=25, deadline=None)
@given(seeds, st.floats(0.01, 100.0))
def test_another_unit_changes_the_scale_and_nothing_else(seed: int, factor: float) -> None:
    sizes = sample(seed)
    one, other = (fit_weibull(sizes_of(part, part)) for part in (sizes, factor * sizes))
    assert other.shape[0] == pytest.approx(one.shape[0], rel=1e-6)
    assert other.scale[0] == pytest.approx(factor * one.scale[0], rel=1e-6)
    assert other.se[0] == pytest.approx(one.se[0] * [1, factor], rel=1e-4)


@settings(max_examples=25, deadline=None)
@given(seeds)
def test_the_order_of_the_sizes_changes_nothing_and_a_weight_is_a_repetition(seed: int) -> None:
    sizes = sample(seed)
    shuffled = np.random.default_rng(seed + 1).permutation(sizes)
    one, other = (fit_weibull(sizes_of(part, part)) for part in (sizes, shuffled))
    assert other.shape[0] == pytest.approx(one.shape[0], rel=1e-8)
    times = 1 + np.arange(len(sizes)) % 3
    repeated = np.repeat(sizes, times)
    by_weight, by_rows = (
        fit_weibull(sizes_of(sizes, sizes, weight=times)),
        fit_weibull(sizes_of(repeated, repeated)),
    )
    assert by_weight.shape[0] == pytest.approx(by_rows.shape[0], rel=1e-7)
    assert by_weight.se[0] == pytest.approx(by_rows.se[0], rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(seeds, st.sampled_from([0, 2]), st.floats(0.0, 0.5))
def test_narrow_classes_give_the_fit_of_exact_sizes(seed: int, order: int, share_cut: float) -> None:
    sizes = np.sort(sample(seed))
    cut = float(sizes[int(share_cut * len(sizes))]) * 0.999 if share_cut > 0.1 else 0.0
    sizes = sizes[sizes > cut]
    width = 1e-4 * sizes
    exact = fit_weibull(sizes_of(sizes, sizes, order=order, truncation=cut))
    classes = fit_weibull(
        sizes_of(sizes * (1 - 5e-5), sizes + width / 2, order=order, truncation=0.9999 * cut)
    )
    assert exact.why_not == classes.why_not
    if not exact.why_not[0]:
        assert classes.shape[0] == pytest.approx(exact.shape[0], rel=0.01, abs=0.01)
        assert classes.scale[0] == pytest.approx(exact.scale[0], rel=0.01, abs=0.01 * sizes.mean())


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=20).filter(lambda parts: sum(parts) > 0.1))
def test_the_dip_is_the_same_from_both_ends_and_in_every_unit(parts: list[float]) -> None:
    share = np.array(parts) / np.sum(parts)
    edges = np.arange(len(share) + 1.0)
    dip = dip_of_classes(edges, share)
    assert 0 <= dip <= 0.25
    assert dip_of_classes(edges, share[::-1]) == pytest.approx(dip, abs=1e-9)
    assert dip_of_classes(3.7 * edges + 2, share) == pytest.approx(dip, abs=1e-9)
    p = dip_p([dip, dip + 0.01], 100)
    assert p[1] <= p[0] <= 1
