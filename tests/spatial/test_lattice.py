"""Grids are found whatever their shape, bearing and gaps, and not elsewhere. Geometry, no source needed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plotmap.spatial.lattice import find_lattice


def _grid(first: tuple[float, float], second: tuple[float, float], n: int) -> np.ndarray:
    """Return the n × n nodes of a grid."""
    i, j = (part.ravel() for part in np.meshgrid(np.arange(n), np.arange(n)))
    return i[:, None] * np.array(first) + j[:, None] * np.array(second)


@pytest.mark.parametrize(
    ("first", "second", "spacing"),
    [
        ((100, 0), (0, 100), (100, 100)),
        ((100, 0), (0, 250), (100, 250)),
        ((80, 60), (-60, 80), (100, 100)),
        ((100, 0), (50, 50 * math.sqrt(3)), (100, 100)),
        ((0, 70), (120, 20), (70, math.hypot(120, 20))),
    ],
    ids=["square", "rectangular", "turned", "triangular", "skewed"],
)
def test_a_grid_with_gaps_and_scatter_is_found(first, second, spacing) -> None:
    rng = np.random.default_rng(4)
    nodes = _grid(first, second, 30)
    kept = nodes[rng.random(len(nodes)) < 0.7]
    places = kept + rng.normal(0, 3, kept.shape) + [500_000, 5_600_000]
    lattice = find_lattice(*places.T)
    assert lattice is not None
    assert lattice.spacing == pytest.approx(spacing, rel=0.01)
    steps = np.array([lattice.first, lattice.second])
    apart = lattice.node - lattice.node[0]
    assert np.abs(apart @ steps - (kept - kept[0])).max() < 5
    assert len(np.unique(lattice.node, axis=0)) == len(kept)


def test_the_bearing_is_clockwise_from_north() -> None:
    along = math.radians(30)
    step = (100 * math.sin(along), 100 * math.cos(along))
    lattice = find_lattice(*_grid(step, (3 * step[1], -3 * step[0]), 8).T)
    assert lattice is not None
    assert lattice.bearing_deg == pytest.approx(30)


def test_one_line_of_places_is_a_grid_with_an_upright_second_step() -> None:
    lattice = find_lattice(np.arange(10) * 30.0, np.arange(10) * 40.0)
    assert lattice is not None
    assert np.dot(lattice.first, lattice.second) == pytest.approx(0, abs=1e-6)
    assert sorted(np.abs(lattice.node - lattice.node[0]).sum(axis=1)) == list(range(10))


def test_places_at_random_lie_on_no_grid() -> None:
    rng = np.random.default_rng(8)
    assert not any(find_lattice(*rng.uniform(0, 1000, (2, n))) for n in (10, 40, 300))


def test_one_place_in_ten_may_be_off_and_not_more() -> None:
    nodes = _grid((100, 0), (0, 100), 10).astype(float)
    moved = nodes.copy()
    moved[::10] += 45
    assert find_lattice(*moved.T) is not None
    moved[5::10] += 45
    assert find_lattice(*moved.T) is None


def test_three_places_and_places_on_one_spot_show_no_grid() -> None:
    assert find_lattice([0, 100, 200], [0, 0, 0]) is None
    assert find_lattice([5.0] * 6, [7.0] * 6) is None


def test_a_place_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="positions must be finite"):
        find_lattice([0, 1, 2, np.nan], [0, 1, 2, 3])
