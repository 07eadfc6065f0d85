"""Structure of scopes: weights, errors by plots, words, and what cannot be told."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from plotmap.model.result_tables import STRUCTURE_RESULTS
from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.statistics import fit_weibull, sizes_of, weibull_scores
from plotmap.stems import measure_stems
from tests.survey_example import survey_example


def estimates(
    trees: dict, n_plots: int = 6, home: str = "A", settings: dict | None = None, **more: object
) -> Estimates:
    """Return the estimates of circles in one compartment."""
    plots = {"plot": [f"P{i}" for i in range(n_plots)], "compartment": [home] * n_plots}
    survey = survey_example(trees=trees, plots=more.pop("plots", plots), settings=settings, **more)  # type: ignore[arg-type]
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def of_compartment(found: Estimates, name: str = "A") -> dict:
    """Return the row of one compartment."""
    rows = found.structure.filter((pl.col("scope") == "compartment") & (pl.col("name") == name))
    return rows.row(0, named=True)


def spread(quantiles: np.ndarray, n_plots: int = 6) -> dict:
    """Deal sizes out to the plots in turn, so that plots are alike."""
    return {"plot": [f"P{i % n_plots}" for i in range(len(quantiles))], "d1_cm": quantiles.round(1).tolist()}


def quantiles(distribution: object, n: int = 300) -> np.ndarray:
    """Return n sizes that lie as the distribution says."""
    return np.asarray(distribution.ppf((np.arange(n) + 0.5) / n))  # type: ignore[attr-defined]


def two_heaps(n: int = 300) -> np.ndarray:
    """Return half the sizes round 15 cm, half round 45 cm."""
    return np.concatenate([quantiles(stats.norm(15, 2), n // 2), quantiles(stats.norm(45, 3), n // 2)])


@pytest.mark.parametrize(
    ("sizes", "word"),
    [
        (quantiles(stats.weibull_min(3.2, scale=30)), "bell"),
        (5 + quantiles(stats.expon(scale=12)), "reverse-J"),
        (two_heaps(), "two-peaked"),
        (
            np.concatenate([quantiles(stats.norm(15, 1.5), 240), quantiles(stats.uniform(18, 60), 60)]),
            "irregular",
        ),
    ],
)
def test_the_form_is_told_where_a_test_says_so(sizes: np.ndarray, word: str) -> None:
    settings = {"stems": {"min_dbh_cm": 5}, "plots": {"design": "circle", "radius_m": 12.62}}
    assert of_compartment(estimates(spread(sizes), settings=settings))["form"] == word


def test_a_slope_that_is_not_sure_is_not_told() -> None:
    """A Weibull of shape 1.05 and 40 stems: whether it rises or falls from 0 is open."""
    row = of_compartment(estimates(spread(quantiles(stats.weibull_min(1.05, scale=25), 40) + 0.1)))
    assert row["form"] == "not told"
    assert row["weibull_shape"] == pytest.approx(1.05, abs=0.1)


def test_thirty_stems_are_fitted_and_twenty_nine_are_not() -> None:
    sizes = quantiles(stats.weibull_min(2.5, scale=30), 30)
    assert of_compartment(estimates(spread(sizes)))["why_missing"] is None
    row = of_compartment(estimates(spread(sizes[:29])))
    assert row["why_missing"] == "fewer than 30 stems"
    assert [
        row[name] for name in ("weibull_shape", "form", "se_from", "chi_square", "dip", "smallest_cm")
    ] == [None] * 6


def test_stems_of_one_size_and_compartments_without_plots_are_missing_with_a_word() -> None:
    found = estimates({"plot": ["P0"] * 40, "d1_cm": [20.0] * 40})
    assert of_compartment(found)["why_missing"] == "all sizes alike"
    assert of_compartment(found, "B")["why_missing"] == "no plots"
    assert found.structure["scope"].to_list() == ["survey", "stratum", "compartment", "compartment"]
    assert found.structure.columns == STRUCTURE_RESULTS.names


def test_errors_by_plots_are_those_of_the_sandwich_worked_plot_by_plot() -> None:
    """Binder 1983: A⁻¹ B A⁻¹, B = n / (n - 1) Σ (u - ū)(u - ū)' over plots, an empty one being zeros."""
    rng = np.random.default_rng(4)
    plot = np.repeat([0, 1, 2, 4, 5], [20, 5, 12, 30, 8])
    sizes = ((12 + 5 * (plot % 3)) * rng.weibull(2.0, len(plot)) + 1).round(1)
    row = of_compartment(estimates({"plot": [f"P{i}" for i in plot], "d1_cm": sizes.tolist()}))
    fit = fit_weibull(sizes_of(sizes, sizes))
    scores = weibull_scores(sizes_of(sizes, sizes), fit)
    u = np.array([scores[plot == i].sum(axis=0) for i in range(6)])
    middle = 6 / 5 * (u - u.mean(axis=0)).T @ (u - u.mean(axis=0))
    expected = np.sqrt(np.diag(fit.covariance[0] @ middle @ fit.covariance[0]))
    assert row["se_from"] == "plots"
    assert [row["weibull_shape_se"], row["weibull_scale_cm_se"]] == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("n_plots", "word"), [(2, "stems"), (3, "plots")])
def test_two_degrees_of_freedom_are_enough_for_errors_by_plots(n_plots: int, word: str) -> None:
    sizes = quantiles(stats.weibull_min(2.5, scale=30), 60)
    row = of_compartment(estimates(spread(sizes, n_plots), n_plots))
    assert row["se_from"] == word
    if word == "stems":
        rounded = sizes.round(1)
        assert row["weibull_shape_se"] == pytest.approx(
            fit_weibull(sizes_of(rounded, rounded)).se[0, 0], rel=1e-5
        )


def test_rings_of_a_nested_plot_are_evened_out_by_their_expansions() -> None:
    """Thin stems counted on a quarter of the area: one in four of them gives the fit of all."""
    sizes = quantiles(stats.weibull_min(2.0, scale=25), 2000)
    sizes = sizes[sizes >= 5].round(1)
    thin, thick = sizes[sizes < 20], sizes[sizes >= 20]
    kept = np.concatenate([thin[::4], thick])
    settings = {
        "plots": {
            "design": "nested",
            "nests": [{"radius_m": 6, "min_dbh_cm": 5}, {"radius_m": 12, "min_dbh_cm": 20}],
        }
    }
    row = of_compartment(estimates(spread(kept), settings=settings))
    assert row["smallest_cm"] == 5
    assert row["weibull_shape"] == pytest.approx(2.0, abs=0.03)
    assert row["weibull_scale_cm"] == pytest.approx(25.0, rel=0.01)


def test_an_angle_count_is_fitted_as_drawn_by_cross_section() -> None:
    """Sizes that lie as the size-biased Weibull (generalised gamma, Gove & Patil 1998) give the stand's own."""
    drawn = quantiles(stats.gengamma(1 + 2 / 2.5, 2.5, scale=28), 600)
    settings = {"plots": {"design": "angle-count", "baf_m2_per_ha": 2}, "classes": {"width_cm": 4}}
    row = of_compartment(estimates(spread(drawn), settings=settings))
    assert row["weibull_shape"] == pytest.approx(2.5, rel=0.01)
    assert row["weibull_scale_cm"] == pytest.approx(28, rel=0.01)
    assert row["chi_square_p"] > 0.5
    assert row["form"] == "bell"


def test_tallied_classes_give_nearly_the_fit_of_the_stems_behind_them() -> None:
    sizes = quantiles(stats.weibull_min(2.5, scale=30), 400)
    low = (np.floor(sizes / 5) * 5).astype(int)
    kinds, counts = np.unique(low, return_counts=True)
    tallies = {
        "plot": [f"P{i % 6}" for i in range(len(kinds))],
        "class": [f"{edge}-{edge + 5}" for edge in kinds],
        "count": counts.tolist(),
    }
    row = of_compartment(estimates({}, tallies=tallies))
    assert row["weibull_shape"] == pytest.approx(2.5, rel=0.03)
    assert row["weibull_scale_cm"] == pytest.approx(30, rel=0.02)
    assert row["anderson_darling"] is None


def test_bands_over_several_classes_are_tested_by_the_edges_of_the_bands() -> None:
    """Five bands hold 400 stems: five cells less one less two parameters are two degrees of freedom."""
    edges = [10, 20, 25, 30, 40, 60]
    colours = ["red", "ochre", "blue", "white", "green"]
    bands = [
        {"name": name, "low_cm": low, "high_cm": high}
        for name, low, high in zip(colours, edges[:-1], edges[1:], strict=True)
    ]
    sizes = quantiles(stats.weibull_min(3.0, scale=27), 400)
    counts = np.histogram(sizes, edges)[0].tolist()
    tallies = {"plot": [f"P{i}" for i in range(5)], "class": colours, "count": counts}
    row = of_compartment(estimates({}, tallies=tallies, settings={
        "classes": {"width_cm": 5, "bands": bands}, "plots": {"design": "circle", "radius_m": 12.62}}))  # fmt: skip
    assert row["smallest_cm"] == 10
    assert row["weibull_shape"] == pytest.approx(3.0, rel=0.03)
    assert row["chi_square_df"] == 2
    assert row["chi_square"] < 1


def test_a_compartment_with_one_plot_joins_the_others_in_one_block() -> None:
    sizes = quantiles(stats.weibull_min(2.5, scale=30), 120).round(1)
    plots = {"plot": ["P0", "P1", "P2", "P3"], "compartment": ["A", "A", "A", "B"]}
    found = estimates({"plot": [f"P{i % 4}" for i in range(120)], "d1_cm": sizes.tolist()}, plots=plots)
    survey = found.structure.row(0, named=True)
    assert (survey["n_plots"], survey["se_from"]) == (4, "plots")
    assert survey["weibull_shape_se"] > 0
    assert of_compartment(found, "B")["se_from"] == "stems"


def test_chi_square_and_design_effect_are_those_worked_by_hand_on_the_classes() -> None:
    """Rao & Scott 1981: the mean of variance by plots over multinomial variance; alike plots give at least 1."""
    sizes = quantiles(stats.weibull_min(2.5, scale=30), 300)
    alike = of_compartment(estimates(spread(sizes)))
    assert alike["design_effect"] == 1
    sorted_out = {"plot": [f"P{i // 50}" for i in range(300)], "d1_cm": sizes.round(1).tolist()}
    apart = of_compartment(estimates(sorted_out))
    assert apart["design_effect"] > 20  # every plot holds sizes of its own
    assert apart["chi_square"] == pytest.approx(alike["chi_square"], rel=1e-9)
    expected = stats.chi2.sf(apart["chi_square"] / apart["design_effect"], apart["chi_square_df"])
    assert apart["chi_square_p"] == pytest.approx(expected, rel=1e-9)
