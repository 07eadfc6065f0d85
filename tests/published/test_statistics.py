"""Published figures that the statistics reproduce; each test names its source."""

from pathlib import Path

import numpy as np
import pytest

from plotmap.statistics import (
    allocate,
    combine,
    linear_density,
    mean_estimate,
    plots_needed,
    ratio_of_means,
    sampling_error_pct,
    stratified_plots,
    t_interval,
)

LONGLEAF = Path(__file__).parents[1] / "data" / "longleaf.csv"


def test_ratio_estimate_of_a_total() -> None:
    """Scheaffer, Mendenhall & Ott 1986, Elementary Survey Sampling, example 6.9.

    Standard errors recomputed from the printed inputs: 192.2479 with the sample's mean of x (as R
    `survey` does), 214.2191 with the known mean of x, 4200 / 200.
    """
    x = [12, 30, 24, 24, 18, 30, 12, 6, 36, 42]
    y = [18, 42, 24, 36, 24, 36, 14, 10, 48, 54]
    estimate = ratio_of_means(y, x, sampling_fraction=10 / 200)
    assert estimate.mean == pytest.approx(1.3076923, abs=5e-8)
    assert estimate.mean * 4200 == pytest.approx(5492.3077, abs=5e-5)
    assert estimate.se * 4200 == pytest.approx(192.2479, abs=5e-5)
    assert estimate.se * 4200 * np.mean(x) / (4200 / 200) == pytest.approx(214.2191, abs=5e-5)
    assert estimate.df == 9


def test_stratified_mean_of_the_cattle_survey() -> None:
    """Murthy, cattle survey in five strata: stratified mean 11.843."""
    villages = np.array([635, 570, 475, 303, 89])
    means = np.array([619, 1423, 1578, 1691, 603]) / [153, 138, 115, 73, 21]
    total, _, _ = combine(villages / villages.sum(), means, np.ones(5), np.ones(5), np.zeros(5, int), 1)
    assert total[0] == pytest.approx(11.843, abs=5e-4)


def test_interval_of_a_mean_of_ten() -> None:
    """influentialpoints.com, confidence interval of a mean: n 10, mean 34.7, s 6.77 → 29.857 to 39.543."""
    low, high = t_interval(34.7, 6.77 / 10**0.5, 9, 0.95)
    assert low == pytest.approx(29.857, abs=5e-4)
    assert high == pytest.approx(39.543, abs=5e-4)


def test_half_widths_at_a_coefficient_of_variation_of_fifty_per_cent() -> None:
    """Of the t distribution (geometry of the formula, needs no source): 449 124 80 62 36 19 %."""
    n = np.array([2, 3, 4, 5, 10, 30])
    widths = sampling_error_pct(20.0, 10.0 / np.sqrt(n), n - 1, 0.95)
    np.testing.assert_array_equal(np.round(widths), [449, 124, 80, 62, 36, 19])


@pytest.mark.parametrize(("error_pct", "plots"), [(10, 99), (20, 27)])
def test_plots_needed_at_a_coefficient_of_variation_of_fifty_per_cent(error_pct, plots) -> None:
    """By n = t²CV²/E² with t iterated (Cochran 1977, ch. 4), infinite population."""
    assert plots_needed(50, error_pct, 0.95) == plots


def test_variance_from_classes_comes_near_sheppards_correction() -> None:
    """Sheppard tutorial: f 1 6 11 17 21 16 13 7 5 2 in classes of 10: variance 385.511682, corrected 377.178349.

    The linear density cannot give the corrected figure itself. Sheppard assumes a density that runs out
    smoothly beyond both outer classes; here sizes stay inside the classes (+1.40 from what would have
    spilled over the ends) and no density is negative (+0.73 from the limit in the lowest class): 0.6 %
    of the variance, and three quarters of the correction of −8.33.
    """
    low = np.arange(0.0, 100.0, 10.0)
    count = np.array([1, 6, 11, 17, 21, 16, 13, 7, 5, 2])
    middle = low + 5
    mean = (count * middle).sum() / count.sum()
    uncorrected = (count * middle**2).sum() / count.sum() - mean**2
    assert mean == pytest.approx(48.232323, abs=5e-7)
    assert uncorrected == pytest.approx(385.511682, abs=5e-7)
    _, means, squares = linear_density(low, low + 10, count).parts(low, low + 10, np.arange(10))
    our_mean = (count * means).sum() / count.sum()
    our_variance = (count * squares).sum() / count.sum() - our_mean**2
    assert our_mean == pytest.approx(48.232323, abs=0.01)
    assert our_variance == pytest.approx(377.178349, rel=0.006)
    assert uncorrected - our_variance > 6


def test_variance_from_classes_is_sheppards_where_the_ends_run_out() -> None:
    """Sheppard's correction −w²/12 on the binomial distribution of 20 throws: 20/4 − 1/12.

    The outermost classes hold two in a million, so what spills over the ends does not count.
    """
    t = np.arange(21)
    count = np.array([np.prod(np.arange(20 - k + 1, 21)) / np.prod(np.arange(1.0, k + 1)) for k in t])
    assert count.sum() == 2**20
    _, means, squares = linear_density(t - 0.5, t + 0.5, count).parts(t - 0.5, t + 0.5, t)
    mean = (count * means).sum() / count.sum()
    assert mean == pytest.approx(10.0, abs=1e-6)
    assert (count * squares).sum() / count.sum() - mean**2 == pytest.approx(5 - 1 / 12, abs=1e-3)


@pytest.fixture(scope="module")
def longleaf() -> np.ndarray:
    """Return the mapped longleaf pines: x and y in m, dbh in cm."""
    return np.loadtxt(LONGLEAF, delimiter=",", skiprows=1).T


@pytest.mark.parametrize(("with_fpc", "se"), [(True, 0.55012949), (False, 0.72522990)])
def test_stratified_quadrats_of_the_longleaf_stand(longleaf, with_fpc, se) -> None:
    """Longleaf pines (Platt, Evans & Rathbun 1988; Debian r-cran-spatstat.data), 50 m quadrats.

    Stratum A is the column x < 50 (quadrats 0 and 8 of its 4), B the rest (5 7 10 13 15 of its 12).
    Quadrat values and the estimates were computed in R and in numpy.
    """
    x, y, dbh = longleaf
    quadrat = (4 * np.minimum(y // 50, 3) + np.minimum(x // 50, 3)).astype(int)
    g_m2_per_ha = np.bincount(quadrat, np.pi / 40_000 * dbh**2, 16) / 0.25
    np.testing.assert_allclose(g_m2_per_ha[[0, 8]], [19.816340220, 18.027498513], atol=5e-10)
    np.testing.assert_allclose(
        g_m2_per_ha[[5, 7, 10, 13, 15]],
        [11.590196095, 8.377898758, 13.523972037, 10.499394285, 12.959440404],
        atol=5e-10,
    )
    strata = [
        mean_estimate(g_m2_per_ha[taken], sampling_fraction=len(taken) / of if with_fpc else 0.0)
        for taken, of in (([0, 8], 4), ([5, 7, 10, 13, 15], 12))
    ]
    columns = [[float(getattr(one, part)) for one in strata] for part in ("mean", "se", "df")]
    total, error, _ = combine([4 / 16, 12 / 16], *columns, [0, 0], 1)
    assert total[0] == pytest.approx(13.27311508, abs=5e-9)
    assert error[0] == pytest.approx(se, abs=5e-9)


def test_basal_area_from_classes_of_the_longleaf_stand(longleaf) -> None:
    """Longleaf pines: 154 91 68 104 95 57 13 2 in 10 cm classes (computed in R and in numpy), G 12.109384 m²/ha.

    The linear density comes within 1 % of the stems' own basal area, nearer than midpoints (1.4 %) do.
    """
    true_g = (np.pi / 40_000 * longleaf[2] ** 2).sum() / 4
    assert true_g == pytest.approx(12.109384140, abs=5e-9)
    low = np.arange(0.0, 80.0, 10.0)
    count = np.array([154, 91, 68, 104, 95, 57, 13, 2])
    squares = linear_density(low, low + 10, count).parts(low, low + 10, np.arange(8))[2]
    g = np.pi / 40_000 * (count * squares).sum() / 4
    midpoint_g = np.pi / 40_000 * (count * (low + 5) ** 2).sum() / 4
    assert g == pytest.approx(true_g, rel=0.01)
    assert abs(g - true_g) < abs(midpoint_g - true_g)


def test_plots_of_strata_for_a_target_error() -> None:
    # USDA Forest Service Handbook 2409.12 (2000): 30, 10, 20, 40 acres; CV 40, 65, 80, 35 %; error 10 %; t 2; N 1000
    plots = stratified_plots([0.3, 0.1, 0.2, 0.4], [40, 65, 80, 35], 10, 2, population=1000)
    assert plots.sum() == 86
    assert plots.tolist() == [21, 12, 28, 25]


def test_plots_shared_out_over_strata_so_that_the_total_holds() -> None:
    # USDA Forest Service Handbook 2409.12 (2000), as above: 86 plots by area times CV are 21, 12, 28 and 25
    assert allocate(86, [30 * 40, 10 * 65, 20 * 80, 40 * 35]).tolist() == [21, 12, 28, 25]


def test_seedlings_of_a_bed_that_must_be_counted() -> None:
    # Cochran 1977, 4.7, from memory: N 430 beds of 1 ft, mean 19, S² 85.6, 10 % of the mean at t 2: 78
    assert stratified_plots([1.0], [100 * 85.6**0.5 / 19], 10, 2, population=430).tolist() == [78]


def test_islanders_that_must_be_asked() -> None:
    # Cochran 1977, 4.2 to 4.4, from memory: half of them at 5 % of all, t 2: 400; of 3200 islanders 356
    assert stratified_plots([1.0], [100], 10, 2).tolist() == [400]
    assert stratified_plots([1.0], [100], 10, 2, population=3200).tolist() == [356]
