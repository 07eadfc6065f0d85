"""Plots of the two surveys side by side: which are one plot visited twice."""

from __future__ import annotations

import numpy as np
import polars as pl
from pyproj import CRS

from plotmap.frames import ordered_sums
from plotmap.model.change import Occasion
from plotmap.model.plot_table import QUANTITIES
from plotmap.model.result_tables_change import (
    PLOT_ELSEWHERE,
    PLOT_MOVED,
    PLOT_ONLY_NEW,
    PLOT_ONLY_OLD,
    PLOT_PAIRED,
)
from plotmap.model.settings import Design
from plotmap.spatial import transform_points

_DAYS = 365.25


def pair_plots(old: Occasion, new: Occasion, farthest_m: float) -> pl.DataFrame:
    """Put the plots of two surveys side by side by name and compartment.

    Parameters
    ----------
    old, new : Occasion
        The two surveys.
    farthest_m : float
        Positions farther apart than this (m) are two plots; a plot without position is taken by its name.

    Returns
    -------
    polars.DataFrame
        One row a plot and compartment of either survey, sorted by both: the columns of `PLOT_CHANGE_RESULTS` but
        ``stems_by``; ``weight_ha``, ``stems``, ``basal_area_m2``, ``area_m2``, ``design`` and ``full_count`` with
        ``_old`` and ``_new``; ``x``, ``y`` in the CRS of the new survey; ``years`` between the visits. A plot that is
        not paired has the figures of the one survey or the other, and of both where it was moved.
    """
    sides = [_side(old, "old", new.survey.crs), _side(new, "new", new.survey.crs)]
    key = ["plot", "compartment"]
    table = sides[0].join(sides[1], on=key, how="full", coalesce=True).sort(key)
    apart = ((pl.col("x_new") - pl.col("x_old")).pow(2) + (pl.col("y_new") - pl.col("y_old")).pow(2)).sqrt()
    visits = [pl.col(f"weight_ha_{side}").is_not_null() for side in ("old", "new")]
    elsewhere = [visit.any().over("plot") for visit in visits]
    return table.with_columns(
        apart.alias("distance_m"),
        pl.coalesce("x_new", "x_old").alias("x"),
        pl.coalesce("y_new", "y_old").alias("y"),
    ).with_columns(
        pl.when(visits[0] & visits[1])
        .then(
            pl.when(pl.col("distance_m").fill_null(0.0) > farthest_m)
            .then(pl.lit(PLOT_MOVED))
            .otherwise(pl.lit(PLOT_PAIRED))
        )
        .when(elsewhere[0] & elsewhere[1])
        .then(pl.lit(PLOT_ELSEWHERE))
        .when(visits[0])
        .then(pl.lit(PLOT_ONLY_OLD))
        .otherwise(pl.lit(PLOT_ONLY_NEW))
        .alias("pair"),
        ((pl.col("date_new") - pl.col("date_old")).dt.total_days() / _DAYS).alias("years"),
    )


def _side(occasion: Occasion, side: str, crs: str) -> pl.DataFrame:
    """Return the units of one survey with their sums, figures, dates and places."""
    sums = ordered_sums(
        occasion.plot_values.cells, ["plot", "compartment"], **{name: pl.col(name) for name in QUANTITIES}
    )
    units = occasion.plot_values.units.join(sums, on=["plot", "compartment"], how="left").join(
        _places(occasion, crs), on="plot", how="left"
    )
    per_ha = pl.when(pl.col("design") == Design.FULL).then(pl.col("area_m2") / 10_000).otherwise("weight_ha")
    units = units.with_columns(pl.col(name).fill_null(0.0) for name in QUANTITIES).with_columns(
        (pl.col(name) / per_ha).alias(figure) for name, figure in QUANTITIES.items()
    )
    return units.rename(lambda name: name if name in {"plot", "compartment"} else f"{name}_{side}")


def _places(occasion: Occasion, crs: str) -> pl.DataFrame:
    """Return position in the CRS of the new survey, date, design and area of each plot."""
    plots = occasion.plot_values.plots.drop_duplicates("plot")
    x, y = transform_points(
        plots.geometry.x.to_numpy(dtype=float),
        plots.geometry.y.to_numpy(dtype=float),
        CRS.from_user_input(occasion.survey.crs),
        CRS.from_user_input(crs),
    )
    texts = {
        name: pl.Series(
            name, plots[name].astype(object).where(plots[name].notna(), None).tolist(), dtype=pl.String
        )
        for name in ("plot", "date", "design")
    }
    return pl.DataFrame(
        {**texts, "area_m2": plots["area_m2"].to_numpy(dtype=float), "x": np.asarray(x), "y": np.asarray(y)}
    ).with_columns(pl.col("area_m2", "x", "y").fill_nan(None), pl.col("date").str.to_date("%Y-%m-%d"))
