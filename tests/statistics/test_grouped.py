"""The linear density within classes, against integrals done another way."""

import numpy as np
import pytest
from scipy.integrate import quad

from plotmap.statistics import linear_density

LOW = np.array([10.0, 20.0, 30.0, 45.0])
HIGH = np.array([20.0, 30.0, 45.0, 50.0])
COUNT = np.array([40.0, 30.0, 21.0, 1.0])


def test_slopes_follow_the_neighbours_mean_densities() -> None:
    """By hand: densities 4, 3, 1.4 and 0.2 per cm at 15, 25, 37.5 and 47.5; 0 at 52.5."""
    slope = linear_density(LOW, HIGH, COUNT).slope
    expected = [(3 - 4) / 10, (1.4 - 4) / 22.5, (0.2 - 3) / 22.5, (0 - 1.4) / 15]
    limits = 2 * COUNT / (HIGH - LOW) ** 2
    np.testing.assert_allclose(slope, np.maximum(expected, -limits))
    assert expected[3] < -limits[3]  # the limit is at work in the last class, and only there
    assert (np.array(expected[:3]) > -limits[:3]).all()


def test_shares_and_moments_of_a_part_are_the_integrals_of_the_density() -> None:
    """Against numerical integration (scipy)."""
    density = linear_density(LOW, HIGH, COUNT)
    for row, (begin, end) in enumerate([(10.0, 14.0), (21.0, 30.0), (33.0, 34.5), (46.0, 50.0)]):
        middle = (LOW[row] + HIGH[row]) / 2

        def at(t, row=row, middle=middle) -> float:
            return COUNT[row] / (HIGH[row] - LOW[row]) + density.slope[row] * (t - middle)

        held = quad(at, begin, end)[0]
        share, mean, mean_square = density.parts([begin], [end], [row])
        assert share[0] == pytest.approx(held / COUNT[row])
        assert mean[0] == pytest.approx(quad(lambda t, at=at: t * at(t), begin, end)[0] / held)
        assert mean_square[0] == pytest.approx(quad(lambda t, at=at: t * t * at(t), begin, end)[0] / held)


def test_an_even_tally_is_spread_evenly() -> None:
    """Geometry: mean square of an even spread over 10 to 20 is (20³ − 10³) / 30."""
    density = linear_density([0, 10, 20], [10, 20, 30], [5, 5, 5])
    share, mean, mean_square = density.parts([10.0], [20.0], [1])
    assert (share[0], mean[0]) == (1.0, 15.0)
    assert mean_square[0] == pytest.approx(7000 / 30)


def test_the_lowest_class_leans_by_the_class_above_alone() -> None:
    assert linear_density([10, 20], [20, 30], [30, 50]).slope[0] == pytest.approx((5 - 3) / 10)


def test_a_class_alone_does_not_lean() -> None:
    assert linear_density([10], [20], [7]).slope[0] == 0.0
    np.testing.assert_array_equal(linear_density([10, 30], [20, 40], [7, 3]).slope, [0.0, 0.0])


def test_beside_a_gap_the_density_falls_to_nothing() -> None:
    """By hand: class 20-30 has 4 per cm above nothing and below 3 per cm; 50-60 is beyond the gap."""
    slope = linear_density([20, 30, 50], [30, 40, 60], [40, 30, 20]).slope
    np.testing.assert_allclose(slope, [(3 - 4) / 10, (0 - 4) / 20, 0.0])


def test_the_order_of_the_rows_does_not_matter() -> None:
    shuffle = [2, 0, 3, 1]
    np.testing.assert_array_equal(
        linear_density(LOW[shuffle], HIGH[shuffle], COUNT[shuffle]).slope,
        linear_density(LOW, HIGH, COUNT).slope[shuffle],
    )


def test_tallies_side_by_side_do_not_see_each_other() -> None:
    both = linear_density(
        np.tile(LOW, 2), np.tile(HIGH, 2), np.concatenate((COUNT, COUNT[::-1])), np.repeat([7, 3], 4)
    )
    np.testing.assert_array_equal(both.slope[:4], linear_density(LOW, HIGH, COUNT).slope)
    np.testing.assert_array_equal(both.slope[4:], linear_density(LOW, HIGH, COUNT[::-1]).slope)


def test_a_class_of_count_zero_is_taken_as_evenly_filled() -> None:
    share, mean, mean_square = linear_density([0, 10], [10, 20], [0, 4]).parts(
        [0.0, 2.0], [10.0, 4.0], [0, 0]
    )
    np.testing.assert_allclose(share, [1.0, 0.2])
    np.testing.assert_allclose(mean, [5.0, 3.0])
    np.testing.assert_allclose(mean_square, [100 / 3, (4**3 - 2**3) / 6])


def test_a_part_without_width_holds_nothing_and_has_its_place() -> None:
    share, mean, mean_square = linear_density(LOW, HIGH, COUNT).parts([12.0], [12.0], [0])
    assert (share[0], mean[0], mean_square[0]) == (0.0, 12.0, 144.0)


@pytest.mark.parametrize(("begin", "end"), [(9.0, 12.0), (15.0, 21.0), (16.0, 15.0), (np.nan, 15.0)])
def test_a_part_that_leaves_its_class_is_refused(begin, end) -> None:
    with pytest.raises(ValueError, match="a part must lie inside its class"):
        linear_density(LOW, HIGH, COUNT).parts([begin], [end], [0])


def test_a_part_of_a_class_that_is_not_there_is_refused() -> None:
    with pytest.raises(IndexError, match="out of bounds"):
        linear_density(LOW, HIGH, COUNT).parts([10.0], [12.0], [4])


def test_classes_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="classes of one tally overlap"):
        linear_density([0, 9], [10, 20], [1, 1])
    with pytest.raises(ValueError, match="every class must end above where it begins"):
        linear_density([10], [10], [1])
    with pytest.raises(ValueError, match="every class must end above where it begins"):
        linear_density([10], [np.inf], [1])
    with pytest.raises(ValueError, match="counts must be finite and 0 or more"):
        linear_density([0], [10], [-1])
    with pytest.raises(ValueError, match="of one length"):
        linear_density([0, 10], [10, 20], [1])


def test_no_classes_give_no_density() -> None:
    assert len(linear_density([], [], []).slope) == 0
