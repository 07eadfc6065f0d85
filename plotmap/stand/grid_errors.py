"""Standard errors from differences between neighbours, beside those of random plots, where plots lie on a grid."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import QUANTITIES, PlotValues
from plotmap.model.result_tables_errors import (
    ABOUT_THE_SAME,
    COUNTED,
    ESTIMATED,
    FEW_NEIGHBOURS,
    GRID_ERROR_RESULTS,
    LARGER,
    NOT_ON_A_GRID,
    SINGLE_PLOT,
    SMALLER,
    TOO_FEW_PLOTS,
    WITHOUT_POSITION,
)
from plotmap.spatial.lattice import Lattice, find_lattice
from plotmap.stand.scopes import ScopeOfSums, scopes_of_sums
from plotmap.statistics import local_variance

FEWEST_PLOTS = 10
"""Differences of fewer plots say too little of an error."""
_FIGURES = tuple(QUANTITIES.values())
_SHARE_WITH_NEIGHBOURS = 0.5
_SAME = 0.1


def grid_errors(
    values: PlotValues, compartments: pd.DataFrame, strata: pd.DataFrame, survey_total: pd.DataFrame
) -> pl.DataFrame:
    """Estimate standard errors of the survey, strata and compartments by local differences.

    The residuals of each compartment's ratio of means, each times what its plot counts for in the total, go
    into `plotmap.statistics.local_variance`, which names the method and its sources.

    Parameters
    ----------
    values : PlotValues
        Plots that enter, what stands on them, and their positions.
    compartments : geopandas.GeoDataFrame
        Columns of `COMPARTMENT_RESULTS`.
    strata, survey_total : pandas.DataFrame
        Columns of `STRATUM_RESULTS` and `SURVEY_RESULTS`, whose errors as of random plots stand beside.

    Returns
    -------
    polars.DataFrame
        Columns of `GRID_ERROR_RESULTS`: the survey, strata, compartments with plots, in this order. Where the
        plots lie on no grid, only the row of the survey, with the word for why.
    """
    covered = pd.DataFrame(compartments[compartments["n_plots"] > 0])
    units = _residuals(values, covered)
    lattice = _lattice(units)
    scopes = scopes_of_sums(covered, strata, survey_total)
    if isinstance(lattice, str):
        return _table([_without_grid(scopes[0], lattice)])
    return _table([_on_grid(scope, _local(units, covered, scope, lattice), lattice) for scope in scopes])


def _residuals(values: PlotValues, covered: pd.DataFrame) -> pl.DataFrame:
    """Return units that are samples with the row of their compartment, position and residuals per hectare sampled.

    Where errors are corrected for a finite population, residuals are multiplied by √(1 − f).
    """
    sums = ordered_sums(values.cells, ["plot", "compartment"], **{name: pl.col(name) for name in QUANTITIES})
    plots = values.plots.drop_duplicates("plot")
    places = pl.DataFrame(
        {
            "plot": plots["plot"].to_numpy(dtype=object),
            "x": plots.geometry.x.to_numpy(),
            "y": plots.geometry.y.to_numpy(),
        },
        schema_overrides={"plot": pl.String},
    )
    figures = pl.DataFrame(
        {"compartment": covered["compartment"].to_numpy(dtype=object), "of": np.arange(len(covered))}
        | {figure: covered[figure].to_numpy(dtype=float) for figure in _FIGURES}
        | {"left": np.sqrt(1.0 - covered["sampling_fraction"].fillna(0.0).to_numpy(dtype=float))},
        schema_overrides={"compartment": pl.String},
    )
    units = (
        values.units.join(sums, on=["plot", "compartment"], how="left", maintain_order="left")
        .join(places, on="plot", how="left", maintain_order="left")
        .join(figures, on="compartment", how="inner", maintain_order="left")
        .with_columns(pl.col("weight_ha").sum().over("compartment").alias("sampled_ha"))
    )
    return units.with_columns(
        pl.when("full_count")
        .then(0.0)
        .otherwise(
            (pl.col(name).fill_null(0.0) - pl.col(figure) * pl.col("weight_ha"))
            / pl.col("sampled_ha")
            * pl.col("left")
        )
        .alias(f"{figure}_residual")
        for name, figure in QUANTITIES.items()
    )


def _lattice(units: pl.DataFrame) -> Lattice | str:
    """Return the grid that the units lie on, or the word for why there is none."""
    if units.height < FEWEST_PLOTS:
        return TOO_FEW_PLOTS
    places = units.select("x", "y").to_numpy()
    if not np.isfinite(places).all():
        return WITHOUT_POSITION
    alone, which = np.unique(places, axis=0, return_inverse=True)
    found = find_lattice(alone[:, 0], alone[:, 1])
    if found is None:
        return NOT_ON_A_GRID
    return Lattice(found.first, found.second, found.node[which], found.share_on_grid)


def _local(units: pl.DataFrame, covered: pd.DataFrame, scope: ScopeOfSums, lattice: Lattice) -> pl.DataFrame:
    """Return standard errors of the weighted sums of a scope, its plots, neighbours and status.

    What the scope's error as of random plots holds beyond those of its compartments was borrowed for single
    plots, and is added here too.
    """
    of, n, weight = units["of"].to_numpy(), len(scope.table), scope.weight
    where, counted = scope.home[of], units["full_count"].to_numpy()
    several = (np.bincount(of) > 1)[of]
    residuals = units.select(f"{figure}_residual" for figure in _FIGURES).to_numpy() * weight[of, np.newaxis]
    local = local_variance(residuals[several], of[several], lattice.node[several], where[several], n)
    columns: dict[str, npt.NDArray[np.generic]] = {}
    hectares = np.bincount(scope.home, weight, n)
    for figure, variance in zip(_FIGURES, local.variance.T, strict=True):
        se = covered[f"{figure}_se"].fillna(0.0).to_numpy(dtype=float)
        own = np.bincount(scope.home, (weight * se) ** 2, n)
        borrowed = (scope.table[f"{figure}_se"].to_numpy(dtype=float) * hectares) ** 2 - own
        columns[f"{figure}_se_local"] = np.sqrt(variance + np.maximum(borrowed, 0.0)) / hectares
    unknown = scope.table["basal_area_m2_per_ha_se"].isna().to_numpy()
    sampled = np.bincount(where, ~counted, n)
    n_plots = np.bincount(where, minlength=n)
    words = np.select(
        [
            sampled == 0,
            n_plots < FEWEST_PLOTS,
            unknown,
            local.n_with_neighbours < _SHARE_WITH_NEIGHBOURS * n_plots,
        ],
        [COUNTED, TOO_FEW_PLOTS, SINGLE_PLOT, FEW_NEIGHBOURS],
        ESTIMATED,
    )
    told = pl.DataFrame(
        {"n_plots": n_plots, "n_with_neighbours": local.n_with_neighbours, "status": words, **columns}
    )
    return told.with_columns(
        pl.when(pl.col("status") == ESTIMATED).then(pl.col(name)).alias(name) for name in columns
    )


def _rows(scope: ScopeOfSums) -> pl.DataFrame:
    """Return scope, name and errors as of random plots."""
    errors = [
        pl.Series(f"{figure}_se", scope.table[f"{figure}_se"].to_numpy(dtype=float)).fill_nan(None)
        for figure in _FIGURES
    ]
    names = pl.DataFrame({"name": scope.names}, schema={"name": pl.String})
    return names.with_columns(pl.lit(scope.word).alias("scope"), *errors)


def _without_grid(scope: ScopeOfSums, why: str) -> pl.DataFrame:
    """Return the rows of a scope whose plots lie on no grid."""
    n_plots = pl.Series("n_plots", scope.table["n_plots"].to_numpy(dtype=np.int64))
    return _rows(scope).with_columns(n_plots, pl.lit(why).alias("status"))


def _on_grid(scope: ScopeOfSums, local: pl.DataFrame, lattice: Lattice) -> pl.DataFrame:
    """Return the rows of a scope, errors as of random plots beside those by local differences."""
    short, long = lattice.spacing
    grid = f"{short:.0f} m × {long:.0f} m, bearing {round(lattice.bearing_deg, 1) % 180:g}°"
    ratio = pl.col("basal_area_m2_per_ha_se_local") / pl.col("basal_area_m2_per_ha_se")
    word = (
        pl.when((ratio - 1).abs() <= _SAME)
        .then(pl.lit(ABOUT_THE_SAME))
        .when(ratio < 1)
        .then(pl.lit(SMALLER))
        .when(ratio > 1)
        .then(pl.lit(LARGER))
    )
    return pl.concat([_rows(scope), local], how="horizontal").with_columns(
        pl.lit(grid).alias("grid"), word.alias("comparison")
    )


def _table(parts: list[pl.DataFrame]) -> pl.DataFrame:
    """Join the parts and give them the declared columns."""
    table = pl.concat(parts, how="diagonal_relaxed")
    return table.with_columns(
        pl.lit(None).alias(name) for name in GRID_ERROR_RESULTS.names if name not in table.columns
    ).select(GRID_ERROR_RESULTS.names)
