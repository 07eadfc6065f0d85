"""Belt geometry: limits that need no source. Published-style figures are in tests/published/test_stems.py."""

import numpy as np
import pytest

from plotmap.stems.girth import belt_cm, diameter_in_belt_cm


def test_a_belt_without_a_climber_is_the_circle() -> None:
    assert belt_cm(30.0, 0.0) == pytest.approx(30 * np.pi, abs=1e-12)


def test_a_belt_round_two_equal_circles_is_one_circle_and_two_diameters() -> None:
    # geometry: half of each circle and two straight parts as long as the centres are apart
    assert belt_cm(12.0, 12.0) == pytest.approx(12 * np.pi + 2 * 12, abs=1e-12)


def test_the_belt_does_not_care_which_circle_is_the_stem() -> None:
    assert belt_cm(30.0, 4.0) == pytest.approx(float(belt_cm(4.0, 30.0)), abs=1e-12)


def test_the_diameter_in_the_belt_is_the_one_the_belt_was_laid_round() -> None:
    stems, climbers = (grid.ravel() for grid in np.meshgrid([0.5, 3.0, 30.0, 400.0], [0.1, 4.0, 60.0]))
    np.testing.assert_allclose(
        diameter_in_belt_cm(belt_cm(stems, climbers), climbers), stems, rtol=0, atol=1e-9
    )


@pytest.mark.parametrize("girth", [np.pi * 4, 12.0, 0.0, np.nan])
def test_a_girth_no_longer_than_the_climbers_own_leaves_no_stem(girth: float) -> None:
    assert np.isnan(diameter_in_belt_cm([girth], [4.0])).all()


def test_a_girth_a_little_longer_than_the_climbers_own_leaves_a_thin_stem() -> None:
    (diameter,) = diameter_in_belt_cm([np.pi * 4 + 0.01], [4.0])
    assert 0 < diameter < 1
    assert belt_cm(diameter, 4.0) == pytest.approx(np.pi * 4 + 0.01, abs=1e-9)


def test_no_girths_give_no_diameters() -> None:
    assert diameter_in_belt_cm([], []).shape == (0,)
