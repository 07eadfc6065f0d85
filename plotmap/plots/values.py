"""Plot values: what each stem stands for, and the sums over each plot, species and class."""

from __future__ import annotations

import math

import geopandas as gpd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import CELL_SCHEMA, COUNT_DECIMALS, UNIT_SCHEMA, PlotValues
from plotmap.model.result_tables import PLOT_RESULTS, TALLIED_RESULTS, TREE_RESULTS
from plotmap.model.stem_table import SET_ASIDE_SCHEMA, Stems
from plotmap.model.survey import Survey
from plotmap.plots.layout import Layout, lay_out

M2_PER_CM2 = math.pi / 40_000
"""Cross-section in m² of a stem whose diameter squared is 1 cm²."""
_M2_PER_HA = 10_000.0


def compute_plots(survey: Survey, stems: Stems) -> PlotValues:
    """Bring stems to plot values.

    Each stem stands for 10 000 / area stems per hectare, the area in m² being the level area of its plot
    after slope and edge rule, and as often as it was tallied (``times``). Plots without stems stay, with
    zeros.

    Parameters
    ----------
    survey : Survey
        Plots, compartments and settings.
    stems : Stems
        Stems with diameters.

    Returns
    -------
    PlotValues
        Plots, units, cells, stems with their expansions, and what was set aside.
    """
    layout = lay_out(survey)
    enters = layout.table.filter(
        pl.col("set_aside").is_null() & pl.col("area_m2").is_not_null() & pl.col("plot").is_not_null()
    ).unique("plot", keep="first", maintain_order=True)
    places = enters.select("plot", "compartment", "area_m2")
    rule = survey.settings.class_rule
    measured = stems.measured.join(places, on="plot", how="inner", maintain_order="left")
    tallied = stems.tallied.join(places, on="plot", how="inner", maintain_order="left")
    cells = _cells(measured, tallied, survey.species)
    labels = rule.frame(pl.concat([measured["class_index"], tallied["class_index"]]).drop_nulls().unique())
    return PlotValues(
        plots=_plot_frame(survey, layout, cells),
        units=places.select(
            "plot", "compartment", (pl.col("area_m2") / _M2_PER_HA).alias("plot_area_ha")
        ).cast(UNIT_SCHEMA),  # type: ignore[arg-type]
        cells=cells,
        trees=_with_expansion(measured, labels, pl.col("times")).select(TREE_RESULTS.names),
        tallied=_with_expansion(tallied, labels, pl.col("count")).select(TALLIED_RESULTS.names),
        set_aside=_set_aside(layout, stems),
        findings=layout.findings,
    )


def _with_expansion(stems: pl.DataFrame, labels: pl.DataFrame, weight: pl.Expr) -> pl.DataFrame:
    """Add class label, cross-section and stems per hectare that each row stands for."""
    return stems.join(labels, on="class_index", how="left", maintain_order="left").with_columns(
        (pl.col("square_cm2") * M2_PER_CM2).alias("basal_area_m2"),
        (weight * _M2_PER_HA / pl.col("area_m2")).alias("stems_per_ha"),
    )


def _cells(measured: pl.DataFrame, tallied: pl.DataFrame, species: pl.DataFrame) -> pl.DataFrame:
    """Return the sums by plot, species (or the group it is reported with) and class; only those with stems."""
    groups = species.select("species", "group").unique("species", keep="first")
    key = ["plot", "compartment", "species", "class_index"]
    columns = (*key, "dbh_cm", "square_cm2")
    stems = pl.concat(
        [
            measured.select(*columns, pl.lit(1.0).alias("n"), pl.col("times").alias("w")),
            tallied.select(*columns, pl.col("count").alias("n"), pl.col("count").alias("w")),
        ]
    ).join(groups, on="species", how="left", maintain_order="left")
    sums = ordered_sums(
        stems.with_columns(pl.coalesce("group", "species").alias("species")),
        key,
        n_trees=pl.col("n"),
        stems=pl.col("w"),
        basal_area_m2=pl.col("w") * pl.col("square_cm2") * M2_PER_CM2,
        dbh_sum_cm=pl.col("w") * pl.col("dbh_cm"),
    )
    return sums.filter(pl.col("stems") > 0).cast(CELL_SCHEMA)  # type: ignore[arg-type]


def _plot_frame(survey: Survey, layout: Layout, cells: pl.DataFrame) -> gpd.GeoDataFrame:
    """Return the plots of the file with their values; missing where set aside."""
    sums = ordered_sums(
        cells, ["plot"], **{name: pl.col(name) for name in ("n_trees", "stems", "basal_area_m2")}
    )
    plain = pl.from_pandas(survey.plots[["date", "crew", "slope_pct"]])
    per_ha = _M2_PER_HA / pl.col("area_m2")
    enters = pl.col("set_aside").is_null() & pl.col("area_m2").is_not_null()
    table = (
        pl.concat([layout.table, plain], how="horizontal")
        .join(sums, on="plot", how="left", maintain_order="left")
        .with_columns(pl.when(enters).then(pl.col("n_trees", "stems", "basal_area_m2").fill_null(0.0)))
        .with_columns(
            pl.col("n_trees").round(COUNT_DECIMALS),
            pl.col("date").cast(pl.Date).dt.to_string("%Y-%m-%d"),
            (pl.col("stems") * per_ha).alias("stems_per_ha"),
            (pl.col("basal_area_m2") * per_ha).alias("basal_area_m2_per_ha"),
            pl.when(pl.col("stems") > 0)
            .then((pl.col("basal_area_m2") / M2_PER_CM2 / pl.col("stems")).sqrt())
            .alias("dg_cm"),
        )
        .select(PLOT_RESULTS.names)
    )
    return gpd.GeoDataFrame(
        table.to_pandas(), geometry=survey.plots.geometry.to_numpy(), crs=survey.plots.crs
    )


def _set_aside(layout: Layout, stems: Stems) -> pl.DataFrame:
    """Return the rows that did not enter, by table and reason."""
    reasons = layout.table.select("plot", pl.col("set_aside").alias("reason")).unique("plot", keep="first")
    plots = layout.table.filter(pl.col("set_aside").is_not_null()).group_by(reason="set_aside").len("rows")
    parts = [stems.set_aside, plots.select(pl.lit("plots").alias("table"), "reason", "rows")]
    for name, rows in (
        ("trees", stems.measured.select("plot", "source_row")),
        ("tallies", stems.tallied.select("plot", "source_row").unique("source_row")),
    ):
        aside = (
            rows.join(reasons, on="plot", how="left")
            .filter(pl.col("reason").is_not_null())
            .group_by(pl.concat_str(pl.lit("plot "), "reason").alias("reason"))
            .len("rows")
        )
        parts.append(aside.select(pl.lit(name).alias("table"), "reason", "rows"))
    return pl.concat([part.cast(SET_ASIDE_SCHEMA) for part in parts]).sort("table", "reason")
