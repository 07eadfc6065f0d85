"""What stands against the samples that the settings ask for: single plots, plots as large as their land."""

from __future__ import annotations

import polars as pl

from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.findings import Findings, findings_of
from plotmap.model.plot_table import PlotValues
from plotmap.model.settings import Design
from plotmap.model.survey import Survey
from plotmap.stand.compartments import areas_of
from plotmap.stand.samples import designs_of


def check_samples(survey: Survey, values: PlotValues) -> Findings:
    """Find samples that the settings under ``[estimates]`` cannot be carried out on.

    Parameters
    ----------
    survey : Survey
        Compartments and settings.
    values : PlotValues
        Plots that enter.

    Returns
    -------
    Findings
        ``one-plot-refused`` where ``one_plot_variance`` is refuse, or merge and nothing to merge with is named;
        ``sampled-area-too-large`` and ``no-sampled-area`` where ``finite_population`` is true. A stratum that is a
        sample has no row.
    """
    rules = survey.settings.estimates
    own = rules.sample_of == "compartment"
    if not rules.finite_population and rules.one_plot_variance not in {"refuse", "merge"}:
        return Findings.none()
    samples = _samples(survey, values, own=own)
    noun = "compartment" if own else "stratum"
    source = survey.sources.get("compartments", "compartments")
    home = "sample" if own else None
    found = []
    if rules.one_plot_variance in {"refuse", "merge"}:
        found.append(_single_plots(samples, noun, source, home, dict(rules.merge_into)))
    if rules.finite_population:
        found += [
            _too_large(_samples(survey, values, own=True), source),
            _without_area(samples, noun, source, home),
        ]
    return Findings.join(found)


def _samples(survey: Survey, values: PlotValues, *, own: bool) -> pl.DataFrame:
    """Return the samples that are not counted whole, with plots, their area and that of their land."""
    rows = pl.Series(SOURCE_ROW, survey.compartments[SOURCE_ROW].to_list(), dtype=pl.Int64)
    land = areas_of(survey).with_columns(rows).unique("compartment", keep="first", maintain_order=True)
    counted = values.units.filter("full_count")["compartment"].unique()
    sample = pl.col("compartment" if own else "stratum")
    land = land.filter(~pl.col("compartment").is_in(counted.implode())).with_columns(sample.alias("sample"))
    plots = (
        values.units.join(designs_of(values), on="plot", how="left")
        .join(land.select("compartment", "sample"), on="compartment", how="inner")
        .group_by("sample")
        .agg(
            pl.col("plot").n_unique().alias("n_plots"),
            pl.col("weight_ha").sum().alias("sampled_ha"),
            ((pl.col("design").n_unique() == 1) & (pl.col("design") != Design.ANGLE_COUNT).all()).alias(
                "known"
            ),
        )
    )
    first = pl.col(SOURCE_ROW).first() if own else pl.lit(None, pl.Int64).alias(SOURCE_ROW)
    return (
        land.group_by("sample", maintain_order=True)
        .agg(pl.col("area_ha").sum(), first)
        .join(plots, on="sample", how="inner", maintain_order="left")
    )


def _single_plots(
    samples: pl.DataFrame, noun: str, source: str, home: str | None, merge_into: dict[str, str]
) -> Findings:
    """Return one-plot-refused."""
    partner = pl.col("sample").replace_strict(merge_into, default=None, return_dtype=pl.String)
    alone = samples.with_columns(partner.alias("partner")).filter(
        (pl.col("n_plots") == 1) & ~partner.is_in(samples["sample"].implode()).fill_null(value=False)
    )
    if merge_into:
        named = pl.format("merge_into names {}, which has no sample plots", "partner")
        end = (
            pl.when(pl.col("partner").is_null()).then(pl.lit("merge_into does not name it")).otherwise(named)
        )
    else:
        end = pl.lit("the settings refuse that")
    message = pl.format(
        "{} {} has 1 plot, but two are needed for an error, and {}", pl.lit(noun), "sample", end
    )
    return findings_of("one-plot-refused", alone, source, message, compartment=home)


def _too_large(compartments: pl.DataFrame, source: str) -> Findings:
    """Return sampled-area-too-large."""
    full = compartments.filter(pl.col("known") & ~(pl.col("sampled_ha") < pl.col("area_ha")))
    message = pl.format(
        "the plots of compartment {} cover {} ha, but it has {} ha, and they must cover less",
        "sample",
        pl.col("sampled_ha").round(4),
        pl.col("area_ha").round(4),
    )
    return findings_of(
        "sampled-area-too-large", full, source, message, compartment="sample", column="area_ha"
    )


def _without_area(samples: pl.DataFrame, noun: str, source: str, home: str | None) -> Findings:
    """Return no-sampled-area."""
    message = pl.format(
        "the plots of {} {} are angle counts or of several designs, so that the share of its area on plots is not "
        "known, and its error is not corrected",
        pl.lit(noun),
        "sample",
    )
    return findings_of("no-sampled-area", samples.filter(~pl.col("known")), source, message, compartment=home)
