"""Tails above an open edge, against scipy's exponential distribution and its integrals."""

import numpy as np
import pytest
from scipy import integrate, stats

from plotmap.stems.tally_tail import tail_parts


@pytest.mark.parametrize(("low", "mean"), [(45.0, 60.0), (40.0, 40.5), (0.0, 12.0)])
@pytest.mark.parametrize("ends", [(0.0, 5.0), (5.0, 10.0), (2.0, 2.5), (10.0, np.inf), (0.0, np.inf)])
def test_parts_of_a_tail_are_the_integrals_of_its_density(
    low: float, mean: float, ends: tuple[float, float]
) -> None:
    begin, end = low + ends[0], low + ends[1]
    tail = stats.expon(loc=low, scale=mean - low)
    moments = [integrate.quad(lambda t, k=k: t**k * tail.pdf(t), begin, end)[0] for k in range(3)]
    share, middle, square = (float(part[0]) for part in tail_parts([begin], [end], [low], [mean]))
    assert share == pytest.approx(moments[0], rel=1e-7, abs=1e-12)
    if moments[0] > 1e-9:  # beyond, the integrals above have no digits left
        assert middle == pytest.approx(moments[1] / moments[0], rel=1e-6)
        assert square == pytest.approx(moments[2] / moments[0], rel=1e-6)


def test_a_part_of_no_width_is_its_place() -> None:
    share, middle, square = tail_parts([50.0], [50.0], [45.0], [60.0])
    assert (share[0], middle[0], square[0]) == (0.0, 50.0, 2500.0)
