"""What the stage of the plots hands on: values of each plot, and of each species and class on it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import polars as pl

from plotmap.model.findings import Findings

CELL_SCHEMA: dict[str, type[pl.DataType]] = {
    "plot": pl.String,
    "compartment": pl.String,
    "species": pl.String,
    "class_index": pl.Int32,
    "n_trees": pl.Float64,
    "stems": pl.Float64,
    "basal_area_m2": pl.Float64,
    "dbh_sum_cm": pl.Float64,
}
STANDING_SCHEMA: dict[str, type[pl.DataType]] = {
    "plot": pl.String,
    "compartment": pl.String,
    "species": pl.String,
    "species_written": pl.String,
    "class_index": pl.Int32,
    "measured": pl.Boolean,
    "condition": pl.String,
    "dbh_cm": pl.Float64,
    "square_cm2": pl.Float64,
    "height_m": pl.Float64,
    "check_row": pl.Int64,
    "dbh_variance_cm2": pl.Float64,
    "source_row": pl.Int64,
    "n_trees": pl.Float64,
    "stems": pl.Float64,
}
SIZE_SCHEMA: dict[str, type[pl.DataType]] = {
    "plot": pl.String,
    "compartment": pl.String,
    "low_cm": pl.Float64,
    "high_cm": pl.Float64,
    "smallest_cm": pl.Float64,
    "n_trees": pl.Float64,
    "weight": pl.Float64,
    "size_biased": pl.Boolean,
    "one_class": pl.Boolean,
}
QUANTITIES = {"stems": "stems_per_ha", "basal_area_m2": "basal_area_m2_per_ha"}
"""Plot sums and the per-hectare figures they become."""
COUNT_DECIMALS = 9
"""Numbers of stems are rounded to so many decimals: parts of a tally add up to whole numbers again."""
UNIT_SCHEMA: dict[str, type[pl.DataType]] = {
    "plot": pl.String,
    "compartment": pl.String,
    "weight_ha": pl.Float64,
    "searched_ha": pl.Float64,
    "full_count": pl.Boolean,
}


@dataclass(frozen=True, slots=True)
class PlotValues:
    """Values of the plots, ready for estimation.

    Attributes
    ----------
    plots : geopandas.GeoDataFrame
        Columns of `plotmap.model.result_tables.PLOT_RESULTS`, one row a plot of the file, in its order.
    units : polars.DataFrame
        Columns of `UNIT_SCHEMA`: the plots that enter the estimates, empty ones too, once for each
        compartment they count for. ``weight_ha`` is the level area in hectares after slope and edge rule; it is
        1 for angle counts and wherever a compartment has plots of several designs, so that plots then count
        alike. ``searched_ha`` is the level area on which stems of every size would have been counted, in hectares: of
        the smallest ring of a nested plot; missing for angle counts. ``full_count`` is true where the compartment was
        counted whole.
    cells : polars.DataFrame
        Columns of `CELL_SCHEMA`: what stands on each of these plots by species and size class, each plot's
        figures per hectare times its ``weight_ha``: for plots of one fixed area, the sums over its stems.
        ``stems`` counts mirrored stems as often as they were tallied, ``n_trees`` once. ``basal_area_m2`` and
        ``dbh_sum_cm`` are sums over ``stems``. A plot, species or class without stems has no row: it is a zero.
    standing : polars.DataFrame
        Columns of `STANDING_SCHEMA`: one row a stem measured, or a size class's part of a tally row, that stands
        on these plots; `cells` are its sums. ``species`` is the group that the species table reports it with,
        ``species_written`` the field sheet's. ``measured`` is false for tallied parts, which have mean
        diameters, no ``condition`` and no ``height_m``; the latter is as it was read, missing where not measured.
        ``check_row`` and ``dbh_variance_cm2`` are those of `MEASURED_SCHEMA`, missing for tallied parts.
        ``source_row`` is the row of the trees table, or of the tallies table.
    sizes : polars.DataFrame
        Columns of `SIZE_SCHEMA`: the diameters behind the cells, one row a stem measured or tally row.
        ``low_cm`` and ``high_cm`` are the limits that the diameter lies between, equal where it was measured;
        ``smallest_cm`` is the diameter below which stems were not counted, 0 where there is none. ``weight`` is
        what the row adds to ``stems`` of the cells; where ``size_biased`` (angle counts, whose stems got in by
        their cross-section) to ``basal_area_m2``. ``one_class`` is true unless a tally row was shared out over
        several size classes.
    trees, tallied : polars.DataFrame
        Columns of `TREE_RESULTS` and `TALLIED_RESULTS`: the stems that entered, with what each stands for.
    set_aside : polars.DataFrame
        ``table``, ``reason``, ``rows``: rows of plots, trees and tallies that did not enter, by reason.
    findings : Findings
        Of sizes, edges, positions of stems and full counts.
    """

    plots: gpd.GeoDataFrame
    units: pl.DataFrame
    cells: pl.DataFrame
    sizes: pl.DataFrame
    standing: pl.DataFrame
    trees: pl.DataFrame
    tallied: pl.DataFrame
    set_aside: pl.DataFrame
    findings: Findings
