"""Domains against plain pandas on a dense table with all its zeros, which the project never makes."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import polars as pl
import pytest
from scipy import stats

from plotmap.stand.domains import ESTIMATE_COLUMNS, estimate_domains, unit_sums
from plotmap.stand.limits import Limits
from plotmap.statistics import IntervalKind


def _made_up(seed: int, *, equal: bool) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return random cells and units: 3 compartments with 6, 2 and 1 plots."""
    rng = np.random.default_rng(seed)
    homes = ["A"] * 6 + ["B"] * 2 + ["C"]
    units = pl.DataFrame(
        {
            "plot": [f"P{i}" for i in range(len(homes))],
            "compartment": homes,
            "weight_ha": [0.05] * len(homes) if equal else rng.uniform(0.02, 0.08, len(homes)),
            "full_count": [False] * len(homes),
        }
    )
    units = units.with_columns(pl.col("weight_ha").alias("searched_ha"))
    rows = [
        (plot, home, species, index, float(n), float(n), 0.03 * n * rng.uniform(0.5, 2), 20.0 * n)
        for (plot, home), species, index in itertools.product(
            zip(units["plot"], homes, strict=True), "xy", range(3)
        )
        if (n := rng.poisson(0.8)) > 0
    ]
    columns = [
        "plot",
        "compartment",
        "species",
        "class_index",
        "n_trees",
        "stems",
        "basal_area_m2",
        "dbh_sum_cm",
    ]
    return pl.DataFrame(rows, schema=columns, orient="row"), units


def _dense(cells: pl.DataFrame, units: pl.DataFrame, by: list[str], confidence: float) -> pd.DataFrame:
    """Return the same estimates by pandas and scipy from a table that holds every zero."""
    keys = cells.select(by).unique().sort(by).rows()
    sums = (
        cells.group_by("plot", *by)
        .agg(pl.col("stems", "basal_area_m2").sum())
        .to_pandas()
        .set_index(["plot", *by])
    )
    rows = []
    for home, plots in units.to_pandas().groupby("compartment"):
        for key in keys:
            found = sums.reindex([(plot, *key) for plot in plots["plot"]]).fillna(0.0)
            area = plots["weight_ha"].to_numpy()
            row: dict[str, object] = {"compartment": home} | dict(zip(by, key, strict=True))
            for name, figure in (("stems", "stems_per_ha"), ("basal_area_m2", "basal_area_m2_per_ha")):
                y = found[name].to_numpy()
                ratio = y.sum() / area.sum()
                n = len(y)
                row[figure] = ratio
                if n > 1:
                    se = np.std(y - ratio * area, ddof=1) / np.sqrt(n) / area.mean()
                    low, high = (
                        stats.t.interval(confidence, n - 1, loc=ratio, scale=se) if se > 0 else (ratio, ratio)
                    )
                    row |= {f"{figure}_se": se, f"{figure}_low": max(low, 0), f"{figure}_high": high}
            if row["stems_per_ha"] > 0:
                rows.append(row)
    return pd.DataFrame(rows)


@pytest.mark.parametrize("equal", [True, False])
@pytest.mark.parametrize("by", [["species"], ["class_index"], ["species", "class_index"]])
def test_sparse_sums_give_what_a_dense_table_with_all_zeros_gives(by: list[str], equal: bool) -> None:  # noqa: FBT001
    cells, units = _made_up(11, equal=equal)
    key = ["compartment", *by]
    found = estimate_domains(cells, units, by, Limits(0.9, IntervalKind.T)).sort(key).to_pandas()
    expected = _dense(cells, units, by, 0.9).sort_values(key, ignore_index=True)
    columns = [*key, *ESTIMATE_COLUMNS]
    pd.testing.assert_frame_equal(found[columns], expected[columns], check_dtype=False, rtol=1e-9, atol=1e-12)


def test_a_compartment_with_one_plot_has_figures_but_no_errors() -> None:
    cells, units = _made_up(5, equal=False)
    found = estimate_domains(cells, units, [], Limits(0.95)).filter(pl.col("compartment") == "C")
    assert found["stems_per_ha"].is_not_null().all()
    errors = [name for name in ESTIMATE_COLUMNS if name.endswith(("_se", "_low", "_high"))]
    assert found.select(errors).null_count().row(0) == (1,) * len(errors)


def test_unit_sums_count_plots_and_add_areas() -> None:
    _, units = _made_up(5, equal=True)
    sums = unit_sums(units).sort("compartment")
    assert sums["n_plots"].to_list() == [6, 2, 1]
    assert sums["sampled_ha"].to_list() == pytest.approx([0.3, 0.1, 0.05], rel=1e-12)
    assert sums["sampled_ha2"].to_list() == pytest.approx([6 * 0.0025, 2 * 0.0025, 0.0025], rel=1e-12)
