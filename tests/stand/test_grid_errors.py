"""Errors on the grid of small surveys, beside those of random plots."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest

from plotmap.plots import compute_plots
from plotmap.stand import estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example


def _table(n_stems: list[int], easting: np.ndarray, northing: np.ndarray, **more: Any) -> pl.DataFrame:
    """Return the table for plots of 500 m² in compartments A (west) and B (east of 500 000 m)."""
    names = [f"P{i}" for i in range(len(n_stems))]
    survey = survey_example(
        settings={"plots": {"design": "circle", "area_m2": 500.0}, **more},
        trees={"plot": np.repeat(names, n_stems).tolist(), "d1_cm": [20.0] * sum(n_stems)},
        plots={
            "plot": names,
            "compartment": ["A" if x < 500_000 else "B" for x in easting],
            "easting": easting.tolist(),
            "northing": northing.tolist(),
        },
    )
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey))).grid_errors


def _nodes(columns: list[int]) -> tuple[np.ndarray, np.ndarray]:
    """Return places on a grid of 40 m, five rows, in columns east of the western edge."""
    x, y = np.meshgrid(499_820 + 40.0 * np.array(columns), 5_600_020 + 40.0 * np.arange(5))
    return x.ravel(), y.ravel()


def _row(table: pl.DataFrame, scope: str, name: str | None) -> dict[str, Any]:
    """Return one row."""
    return table.filter((pl.col("scope") == scope) & pl.col("name").eq_missing(name)).row(0, named=True)


def test_plots_along_a_slope_have_a_smaller_error_on_the_grid() -> None:
    x, y = _nodes([0, 1, 2, 3, 4])
    table = _table([2 + int((v - 5_600_000) // 40) * 4 for v in y], x, y)
    row = _row(table, "compartment", "A")
    assert row["status"] == "estimated"
    assert row["grid"] == "40 m × 40 m, bearing 90°"
    assert row["n_plots"] == row["n_with_neighbours"] == 25
    assert row["basal_area_m2_per_ha_se_local"] < row["basal_area_m2_per_ha_se"]
    assert row["comparison"] == "smaller on the grid"


def test_the_error_on_the_grid_is_matern_s_by_hand() -> None:
    # one column of ten plots is a line: differences of neighbours, worked in numpy
    x, y = np.full(10, 499_900.0), 5_600_010 + 20.0 * np.arange(10)
    n_stems = [3, 4, 4, 6, 5, 7, 9, 8, 8, 10]
    row = _row(_table(n_stems, x, y), "compartment", "A")
    residual = np.array(n_stems) - np.mean(n_stems)
    squares = (np.diff(residual) ** 2).sum() + residual[0] ** 2 + residual[-1] ** 2
    expected = np.sqrt(squares / 2 / (1 - 1 / 100)) / 10 * 20  # 10 plots; one stem stands for 20 per ha
    assert row["stems_per_ha_se_local"] == pytest.approx(expected, rel=1e-9)


def test_nine_plots_are_too_few_and_ten_are_not() -> None:
    x, y = np.full(10, 499_900.0), 5_600_010 + 20.0 * np.arange(10)
    assert _row(_table([1, 2, 3] * 3 + [2], x, y), "survey", None)["status"] == "estimated"
    assert _row(_table([1, 2, 3] * 3, x[:9], y[:9]), "survey", None)["status"] == "too few plots"


def test_plots_at_random_have_one_row_that_says_so() -> None:
    rng = np.random.default_rng(6)
    table = _table([2, 3] * 10, rng.uniform(499_810, 499_990, 20), rng.uniform(5_600_010, 5_600_190, 20))
    assert table["status"].to_list() == ["not on one grid"]
    assert table["n_plots"].to_list() == [20]
    assert table["basal_area_m2_per_ha_se"].is_not_null().all()
    assert table["basal_area_m2_per_ha_se_local"].is_null().all()


def test_a_single_plot_leaves_the_total_without_error_unless_one_is_lent() -> None:
    x, y = _nodes([0, 1, 2, 3])
    x, y = np.append(x, 500_020.0), np.append(y, 5_600_020.0)
    n_stems = [3, 5, 4, 6, 2] * 4 + [4]
    bare = _row(_table(n_stems, x, y), "survey", None)
    assert (bare["status"], bare["stems_per_ha_se_local"]) == ("a compartment has one plot", None)
    lent = _table(n_stems, x, y, estimates={"one_plot_variance": "pooled"})
    whole, part = _row(lent, "survey", None), _row(lent, "compartment", "A")
    assert whole["status"] == "estimated"
    # areas are the same, so what B borrowed is the square of its mean's error, as of random plots
    borrowed = (2 * whole["stems_per_ha_se"]) ** 2 - part["stems_per_ha_se"] ** 2
    expected = np.sqrt(part["stems_per_ha_se_local"] ** 2 + borrowed) / 2
    assert whole["stems_per_ha_se_local"] == pytest.approx(expected, rel=1e-6)
