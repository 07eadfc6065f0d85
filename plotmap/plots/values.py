"""Plot values: what each stem stands for, and the sums over each plot, species and class."""

from __future__ import annotations

import geopandas as gpd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.findings import Findings
from plotmap.model.plot_table import CELL_SCHEMA, COUNT_DECIMALS, STANDING_SCHEMA, PlotValues
from plotmap.model.result_tables import PLOT_RESULTS, TALLIED_RESULTS, TREE_RESULTS
from plotmap.model.settings import Design
from plotmap.model.stem_table import SET_ASIDE_SCHEMA, Stems
from plotmap.model.survey import Survey
from plotmap.plots.diameters import diameters
from plotmap.plots.expansions import bark_findings, ring_findings, with_expansions, with_whole_ring
from plotmap.plots.layout import NOT_REACHED, OUTSIDE, Layout, lay_out
from plotmap.plots.stem_places import place_findings, with_compartments, with_positions
from plotmap.units import M2_PER_CM2, M2_PER_HA

_NOT_GROUPED = [name for name in STANDING_SCHEMA if name != "species_written"]


def compute_plots(survey: Survey, stems: Stems) -> PlotValues:
    """Bring stems to plot values.

    A stem on an area of a m² (level, after slope and edge rule; of the ring its size belongs to) stands for
    10 000 / a stems per hectare; a stem of an angle count with cross-section g m² stands for BAF / g, and BAF
    divided by the cosine of the slope where that was not allowed for. Both as often as it was tallied
    (``times``). Rings and angle counts take stems by their size over bark, whatever the basis of the results.
    Plots without stems stay, with zeros. Angle counts: Bitterlich 1948; rings: common practice, no source.

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
    files = (survey.sources.get("trees", "trees"), survey.sources.get("tallies", "tallies"))
    homes = layout.table.filter(pl.col("compartment").is_not_null() & pl.col("plot").is_not_null()).unique(
        "plot", keep="first", maintain_order=True
    )
    homes = homes.select("plot", "compartment", "design", "level", "baf_level_m2_per_ha")
    on_plots = with_compartments(with_positions(stems.measured, survey), survey, homes)
    tallied_on_plots = with_compartments(stems.tallied, survey, homes)
    measured, tallied = (with_expansions(rows, layout) for rows in (on_plots, tallied_on_plots))
    rule = survey.settings.class_rule
    standing = _standing(measured, tallied, survey.species)
    cells = _cells(standing)
    labels = rule.frame(pl.concat([measured["class_index"], tallied["class_index"]]).drop_nulls().unique())
    aside = [_not_expanded("trees", on_plots, measured), _not_expanded("tallies", tallied_on_plots, tallied)]
    rings = with_whole_ring(on_plots, layout)
    return PlotValues(
        plots=_plot_frame(survey, layout, cells),
        units=_units(layout),
        cells=cells,
        sizes=diameters(measured, tallied, survey.settings),
        standing=standing,
        trees=_with_labels(measured, labels, pl.col("times")).select(TREE_RESULTS.names),
        tallied=_with_labels(tallied, labels, pl.col("count")).select(TALLIED_RESULTS.names),
        set_aside=_set_aside(layout, stems, aside),
        findings=Findings.join(
            [
                layout.findings,
                place_findings(rings, tallied_on_plots, survey.settings.plots, files),
                ring_findings(on_plots, measured, tallied, survey, files),
                bark_findings(on_plots, files[0]),
            ]
        ),
    )


def _units(layout: Layout) -> pl.DataFrame:
    """Return the plots that enter with their weights and the area searched for stems of every size."""
    searched = layout.rings.group_by("plot", "compartment").agg(pl.col("ring_m2").min())
    return layout.parts.join(searched, on=["plot", "compartment"], how="left", maintain_order="left").select(
        "plot",
        "compartment",
        (pl.col("weight_m2") / M2_PER_HA).alias("weight_ha"),
        (pl.col("ring_m2") / M2_PER_HA).alias("searched_ha"),
        "full_count",
    )


def _with_labels(stems: pl.DataFrame, labels: pl.DataFrame, weight: pl.Expr) -> pl.DataFrame:
    """Add class label, cross-section and stems per hectare that each row stands for."""
    return stems.join(labels, on="class_index", how="left", maintain_order="left").with_columns(
        (pl.col("square_cm2") * M2_PER_CM2).alias("basal_area_m2"),
        (weight * pl.col("per_ha")).alias("stems_per_ha"),
    )


def _standing(measured: pl.DataFrame, tallied: pl.DataFrame, species: pl.DataFrame) -> pl.DataFrame:
    """Return the stems and parts of tally rows that entered, each with the stems it adds to its plot."""
    groups = species.select("species", "group").unique("species", keep="first")
    stems = pl.concat(
        [
            measured.with_columns(
                pl.lit(value=True).alias("measured"),
                pl.lit(1.0).alias("n_trees"),
                (pl.col("times") * pl.col("share")).alias("stems"),
            ).select(_NOT_GROUPED),
            tallied.with_columns(
                pl.lit(value=False).alias("measured"),
                pl.lit(None, pl.String).alias("condition"),
                pl.lit(None, pl.Float64).alias("height_m"),
                pl.lit(None, pl.Int64).alias("check_row"),
                pl.lit(None, pl.Float64).alias("dbh_variance_cm2"),
                pl.col("count").alias("n_trees"),
                (pl.col("count") * pl.col("share")).alias("stems"),
            ).select(_NOT_GROUPED),
        ]
    ).join(groups, on="species", how="left", maintain_order="left")
    named = stems.with_columns(
        pl.col("species").alias("species_written"), pl.coalesce("group", "species").alias("species")
    )
    return named.select(list(STANDING_SCHEMA)).cast(STANDING_SCHEMA)  # type: ignore[arg-type]


def _cells(standing: pl.DataFrame) -> pl.DataFrame:
    """Return the sums by plot, species (or the group it is reported with) and class; only those with stems."""
    sums = ordered_sums(
        standing,
        ["plot", "compartment", "species", "class_index"],
        n_trees=pl.col("n_trees"),
        stems=pl.col("stems"),
        basal_area_m2=pl.col("stems") * pl.col("square_cm2") * M2_PER_CM2,
        dbh_sum_cm=pl.col("stems") * pl.col("dbh_cm"),
    )
    return sums.filter(pl.col("stems") > 0).cast(CELL_SCHEMA)  # type: ignore[arg-type]


def _plot_frame(survey: Survey, layout: Layout, cells: pl.DataFrame) -> gpd.GeoDataFrame:
    """Return the plots of the file with their values; missing where set aside."""
    weighed = cells.join(layout.parts, on=["plot", "compartment"], how="left", maintain_order="left")
    by_area = (
        pl.when("full_count")
        .then(1.0)
        .otherwise(
            (pl.col("part_m2") / pl.col("weight_m2")).fill_null(1.0)  # parts weigh by area in their own plot
        )
    )
    sums = ordered_sums(
        weighed,
        ["plot"],
        n_trees=pl.col("n_trees"),
        **{name: pl.col(name) * by_area for name in ("stems", "basal_area_m2")},
    )
    parts = layout.parts.select("plot", pl.lit(value=True).alias("has_parts")).unique("plot")
    plain = pl.from_pandas(survey.plots[["date", "crew", "slope_pct"]])
    per_ha = M2_PER_HA / pl.col("area_m2").fill_null(M2_PER_HA)
    enters = pl.col("compartment").is_not_null() & pl.col("has_parts").is_not_null()
    table = (
        pl.concat([layout.table, plain], how="horizontal")
        .join(sums, on="plot", how="left", maintain_order="left")
        .join(parts, on="plot", how="left", maintain_order="left")
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


def _not_expanded(table: str, before: pl.DataFrame, after: pl.DataFrame) -> pl.DataFrame:
    """Return the rows on plots that enter which stand for nothing: outside compartments or plot, or too thin."""
    left = before.join(after.select(SOURCE_ROW).unique(), on=SOURCE_ROW, how="anti").unique(SOURCE_ROW)
    reason = (
        pl.when(pl.col("compartment").is_null())
        .then(pl.lit(OUTSIDE))
        .when(pl.col("design") == Design.NESTED)
        .then(pl.lit("below the smallest ring"))
        .otherwise(pl.lit(NOT_REACHED))
    )
    return (
        left.group_by(reason.alias("reason"))
        .len("rows")
        .select(pl.lit(table).alias("table"), "reason", "rows")
    )


def _set_aside(layout: Layout, stems: Stems, not_expanded: list[pl.DataFrame]) -> pl.DataFrame:
    """Return the rows that did not enter, by table and reason."""
    reasons = layout.table.select("plot", pl.col("set_aside").alias("reason")).unique("plot", keep="first")
    plots = layout.table.filter(pl.col("set_aside").is_not_null()).group_by(reason="set_aside").len("rows")
    parts = [stems.set_aside, plots.select(pl.lit("plots").alias("table"), "reason", "rows"), *not_expanded]
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
