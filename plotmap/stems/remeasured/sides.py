"""The two sides of a check: the stems of the crew and of the check, corrected in the same way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import geopandas as gpd
import polars as pl

from plotmap.model.field_tables import CUT, DEAD, ESTIMATED_STATES, TREES
from plotmap.model.findings import FINDING_SCHEMA, Findings, findings_of
from plotmap.stems.measure import measure_stems

if TYPE_CHECKING:
    from plotmap.model.settings import Settings, StemsSection
    from plotmap.model.stem_table import Stems
    from plotmap.model.survey import Survey

SIDE_SCHEMA = pl.Schema(
    {
        "node": pl.Int64,
        "plot": pl.String,
        "crew": pl.String,
        "tree": pl.String,
        "species": pl.String,
        "condition": pl.String,
        "instrument": pl.String,
        "dbh_cm": pl.Float64,
        "class_index": pl.Int32,
        "east_m": pl.Float64,
        "north_m": pl.Float64,
        "set_aside": pl.String,
        "source_row": pl.Int64,
    }
)
"""One stem of a side. ``node`` numbers the stems by plot, size and row; positions are metres from the centre."""
NO_DIAMETER, TWICE = "no diameter", "number comes twice"
"""Words of ``reason`` beside dead, too thin and the state of the plot."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Both sides of the plots that were checked.

    Attributes
    ----------
    crew, check : polars.DataFrame
        Columns of `SIDE_SCHEMA`: every stem with a diameter, dead and thin ones too; ``set_aside`` says why
        a stem does not count.
    plots : polars.DataFrame
        ``plot`` and ``crew`` (missing where not known) of every checked plot.
    findings : Findings
        About the rows of the check.
    set_aside : polars.DataFrame
        ``check_row`` and ``reason`` of the rows of the check that have no diameter or no measured plot.
    """

    crew: pl.DataFrame
    check: pl.DataFrame
    plots: pl.DataFrame
    findings: Findings
    set_aside: pl.DataFrame


def both_sides(survey: Survey, stems: Stems) -> Sides:
    """Measure the stems of the check as those of the crew are, and bring both into one form.

    The whole stage of the stems is run on the rows of the check, with the instrument check in force on the
    day of the check. Both sides are also measured without the smallest diameter and with dead stems, so that
    a stem which only one side left out finds its partner.

    Parameters
    ----------
    survey : Survey
        Reads all tables of stems, ``plots`` and the settings.
    stems : Stems
        Of the survey: what counts on the side of the crew.
    """
    plots = _plots(survey)
    checked = survey.check_trees.join(plots, on="plot", how="left", maintain_order="left", suffix="_plot")
    on_plots = checked.filter(_is_measured()).select(survey.check_trees.columns)
    copies = _again(on_plots)
    rows = on_plots.join(copies, on="source_row", how="anti", maintain_order="left")
    places = rows.select("plot").unique(maintain_order=True).join(plots, on="plot", maintain_order="left")
    again, names = _as_survey(survey, rows)
    found = measure_stems(again)
    check = _joined(_side(again, found).drop("plot"), rows.select("source_row", "plot", "crew"), "source_row")
    trees = survey.trees.join(places.select("plot"), on="plot", how="semi", maintain_order="left")
    first = replace(survey, trees=trees, tallies=survey.tallies.clear())
    crew = _joined(_side(first, stems), places.select("plot", "crew"), "plot")
    file = survey.sources.get("check_trees", "check_trees")
    findings = [_own(found.findings, file, names), _strays(checked, file), _twice(copies, file)]
    without = rows.join(check.select("source_row"), on="source_row", how="anti", maintain_order="left")
    return Sides(
        crew=_numbered(crew),
        check=_numbered(check),
        plots=places.select("plot", "crew"),
        findings=Findings.join(findings),
        set_aside=_reasons(checked, without, copies, survey.settings.stems),
    )


def _is_measured() -> pl.Expr:
    """Say whether the plot of a row is there and was measured."""
    return pl.col("state").is_in(ESTIMATED_STATES).fill_null(value=False)


def _joined(left: pl.DataFrame, right: pl.DataFrame, key: str) -> pl.DataFrame:
    """Return `left` with the columns of `right` where the key is there."""
    return left.join(right, on=key, how="left", maintain_order="left")


def _reasons(
    checked: pl.DataFrame, without: pl.DataFrame, copies: pl.DataFrame, settings: StemsSection
) -> pl.DataFrame:
    """Return row and reason of the rows of the check that cannot be compared."""
    plot = pl.format("plot {}", "state").fill_null("plot not there")
    is_dead = pl.lit(settings.count == "live") & (pl.col("condition") == DEAD).fill_null(value=False)
    is_cut = (pl.col("condition") == CUT).fill_null(value=False)
    diameter = (
        pl.when(is_dead).then(pl.lit(DEAD)).when(is_cut).then(pl.lit(CUT)).otherwise(pl.lit(NO_DIAMETER))
    )
    parts = ((checked.filter(~_is_measured()), plot), (without, diameter), (copies, pl.lit(TWICE)))
    return pl.concat(
        rows.select(pl.col("source_row").alias("check_row"), reason.alias("reason")) for rows, reason in parts
    )


def _plots(survey: Survey) -> pl.DataFrame:
    """Return ``plot``, ``state`` and ``crew`` of every plot, the first row where one comes twice."""
    columns = survey.plots[["plot", "state", "crew"]].astype(object)
    plots: pl.DataFrame = pl.from_pandas(columns.where(columns.notna(), None))
    return plots.cast(pl.String).drop_nulls("plot").unique("plot", keep="first", maintain_order=True)


def _as_survey(survey: Survey, rows: pl.DataFrame) -> tuple[Survey, pl.DataFrame]:
    """Return the rows of the check as a survey of their own, and ``visit`` and ``plot``.

    Where a plot was checked on several days, each day is a plot of its own: a visit.
    """
    several = pl.col("date").n_unique().over("plot") > 1
    day = pl.format("{} on {}", "plot", pl.col("date").cast(pl.String).fill_null("no day"))
    dated = rows.with_columns(pl.when(several).then(day).otherwise("plot").alias("visit"))
    visits = dated.unique("visit", keep="first", maintain_order=True).select(
        "visit", "plot", "date", "source_row"
    )
    places = survey.plots.drop(columns=["date", "source_row"]).drop_duplicates("plot")
    days = visits.with_columns(pl.col("date").cast(pl.Datetime("us"))).to_pandas()
    merged = days.merge(places, on="plot", how="left").drop(columns="plot").rename(columns={"visit": "plot"})
    file = survey.sources.get("check_trees", "check_trees")
    return replace(
        survey,
        trees=dated.with_columns(pl.col("visit").alias("plot")).drop("visit", "crew", "date"),
        tallies=survey.tallies.clear(),
        plots=gpd.GeoDataFrame(merged, geometry="geometry", crs=survey.plots.crs),
        sources={**survey.sources, TREES.name: file, "plots": file},
    ), visits.select("visit", "plot")


def _lenient(survey: Survey) -> Survey:
    """Return the survey with settings that leave no stem out for being thin or dead."""
    stems = survey.settings.stems.model_copy(update={"count": "all", "min_dbh_cm": 0.0})
    settings: Settings = survey.settings.model_copy(update={"stems": stems})
    return replace(survey, settings=settings)


def _side(survey: Survey, counting: Stems) -> pl.DataFrame:
    """Return the stems of a survey without their crew; `counting` has those that count."""
    measured = measure_stems(_lenient(survey)).measured
    thin = f"below {survey.settings.stems.min_dbh_cm:g} cm"
    counts = counting.measured.select("source_row", pl.lit(value=True).alias("counts"))
    bearing = pl.col("azimuth_deg").radians()
    placed = survey.trees.select(
        "source_row",
        (pl.col("distance_m") * bearing.sin()).alias("east_m"),
        (pl.col("distance_m") * bearing.cos()).alias("north_m"),
    )
    joined = measured.join(counts, on="source_row", how="left", maintain_order="left").join(
        placed, on="source_row", how="left", maintain_order="left"
    )
    why = (
        pl.when(pl.col("counts").is_null())
        .then(
            pl.when(pl.col("condition").is_in([DEAD, CUT])).then(pl.col("condition")).otherwise(pl.lit(thin))
        )
        .alias("set_aside")
    )
    return joined.with_columns(why)


def _numbered(side: pl.DataFrame) -> pl.DataFrame:
    """Return a side in the order of plots and sizes, numbered."""
    ordered = side.sort("plot", "dbh_cm", "species", "tree", "source_row", nulls_last=True)
    return ordered.with_row_index("node").select(SIDE_SCHEMA.names()).cast(SIDE_SCHEMA)


def _own(findings: Findings, file: str, names: pl.DataFrame) -> Findings:
    """Return the findings about the file of the check, with plots in place of visits."""
    own = findings.frame.filter(pl.col("file") == file)
    renamed = own.join(
        names.rename({"plot": "name"}), left_on="plot", right_on="visit", how="left", maintain_order="left"
    ).with_columns(pl.coalesce("name", "plot").alias("plot"))
    return Findings(renamed.select(list(FINDING_SCHEMA)))


def _strays(checked: pl.DataFrame, file: str) -> Findings:
    """Find rows whose plot is not there or was not measured."""
    cells = {"plot": "plot", "column": "plot", "value": "plot"}
    named = checked.filter(pl.col("plot").is_not_null())
    unknown = findings_of(
        "check-plot-unknown",
        named.filter(pl.col("state").is_null()),
        file,
        pl.format("plot {} is not in the plots table", "plot"),
        **cells,
    )
    unmeasured = findings_of(
        "check-on-unmeasured-plot",
        named.filter(pl.col("state").is_not_null() & ~pl.col("state").is_in(ESTIMATED_STATES)),
        file,
        pl.format("the plot is marked {}, so the row is set aside", "state"),
        **cells,
    )
    return Findings.join([unknown, unmeasured])


def _again(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the rows whose plot and tree have come before, with ``first``, the row where they did."""
    return (
        rows.filter(pl.col("tree").is_not_null())
        .with_columns(pl.col("source_row").min().over("plot", "tree").alias("first"))
        .filter(pl.col("source_row") != pl.col("first"))
    )


def _twice(again: pl.DataFrame, file: str) -> Findings:
    """Find rows whose plot and tree have come before."""
    message = pl.format("plot {}, tree {} comes again; it is first in row {}", "plot", "tree", "first")
    return findings_of("check-stem-twice", again, file, message, plot="plot", column="tree", value="tree")
