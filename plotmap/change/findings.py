"""What is odd about the pairs of plots, outlines and stems of two surveys."""

from __future__ import annotations

import geopandas as gpd
import polars as pl

from plotmap.change.compartments import MOVED_SHARE
from plotmap.model.change import Occasion
from plotmap.model.findings import Findings, findings_of
from plotmap.model.result_tables_change import (
    BOUNDARY_CHANGED,
    INGROWTH,
    NOT_NUMBERED,
    OTHER_AREA,
    PLOT_MOVED,
    SURVIVOR,
)
from plotmap.model.settings import CompareSection


def change_findings(
    compartments: gpd.GeoDataFrame,
    pairs: pl.DataFrame,
    stems: pl.DataFrame,
    new: Occasion,
    settings: CompareSection,
) -> Findings:
    """Return the findings of a comparison.

    Parameters
    ----------
    compartments, pairs, stems
        As the other modules of this folder give them.
    new : Occasion
        The new survey: its files are named, and its smallest diameter.
    settings : CompareSection
        What pairs, outlines and growth may differ by.

    Returns
    -------
    Findings
        Warnings and notes only; nothing of it stops a comparison.
    """
    files = {name: new.survey.sources.get(name, name) for name in ("compartments", "plots", "trees")}
    return Findings.join(
        [
            *_of_plots(pairs, files["plots"], settings),
            *_of_outlines(compartments, files["compartments"], settings),
            *_of_stems(stems, files["trees"], new.survey.settings.stems.min_dbh_cm, settings),
        ]
    )


def _of_plots(pairs: pl.DataFrame, file: str, settings: CompareSection) -> list[Findings]:
    """Return findings of pairs of plots."""
    once = pairs.unique("plot", keep="first", maintain_order=True).with_columns(
        pl.lit(None, pl.Int64).alias("source_row")
    )
    moved = once.filter(pl.col("pair") == PLOT_MOVED)
    other = once.filter(pl.col("stems_by") == OTHER_AREA)
    unclear = once.filter(pl.col("stems_by") == NOT_NUMBERED)
    back = once.filter(pl.col("years") <= 0)
    return [
        findings_of(
            "pair-moved",
            moved,
            file,
            pl.format(
                "plot {} lies {} m from its place in the old survey; up to {} m is taken as one plot",
                "plot",
                pl.col("distance_m").round(1),
                pl.lit(settings.pair_distance_m),
            ),
            plot="plot",
        ),
        findings_of(
            "pair-other-area",
            other,
            file,
            pl.format(
                "plot {} has {} m², in the old survey {} m²; up to 1 % apart its stems could be followed",
                "plot",
                pl.col("area_m2_new").round(1),
                pl.col("area_m2_old").round(1),
            ),
            plot="plot",
        ),
        findings_of(
            "pair-not-numbered",
            unclear,
            file,
            pl.format(
                "plot {}: a stem has no number or a number is there twice, in one of the surveys", "plot"
            ),
            plot="plot",
        ),
        findings_of(
            "pair-out-of-order",
            back,
            file,
            pl.format(
                "plot {} was visited on {} for the old survey and on {} for the new one; the new visit must be later",
                "plot",
                "date_old",
                "date_new",
            ),
            plot="plot",
            column=pl.lit("date"),
        ),
    ]


def _of_outlines(compartments: gpd.GeoDataFrame, file: str, settings: CompareSection) -> list[Findings]:
    """Return findings of compartments whose boundary moved."""
    frame = pl.DataFrame(
        {
            "compartment": compartments["compartment"].astype(str).to_list(),
            "share": compartments[MOVED_SHARE].to_numpy(dtype=float),
            "status": compartments["status"].to_list(),
            "source_row": [None] * len(compartments),
        },
        schema_overrides={"compartment": pl.String, "status": pl.String, "source_row": pl.Int64},
    )
    return [
        findings_of(
            "boundary-changed",
            frame.filter(pl.col("status") == BOUNDARY_CHANGED),
            file,
            pl.format(
                "compartment {}: {} % of the land of both outlines lies in one of them only; up to {} % counts as "
                "one compartment",
                "compartment",
                (100 * pl.col("share")).round(1),
                pl.lit(settings.boundary_pct),
            ),
            compartment="compartment",
        )
    ]


def _of_stems(stems: pl.DataFrame, file: str, min_dbh_cm: float, settings: CompareSection) -> list[Findings]:
    """Return findings of stems that were followed."""
    rows = stems.with_columns(pl.col("source_row_new").alias("source_row"))
    alive = rows.filter(pl.col("fate") == SURVIVOR)
    growth = pl.col("dbh_cm_new") - pl.col("dbh_cm_old")
    most = settings.max_growth_cm_per_year
    sizes = [pl.col(f"dbh_cm_{side}").round(1) for side in ("old", "new")]
    fast = pl.format("more than {} cm a year", pl.lit(most))
    return [
        findings_of(
            "stem-shrank",
            alive.filter(growth < -settings.max_shrinking_cm),
            file,
            pl.format(
                "plot {}, tree {} had {} cm and has {} cm; up to {} cm less is taken as measuring error",
                "plot",
                "tree",
                *sizes,
                pl.lit(settings.max_shrinking_cm),
            ),
            plot="plot",
        ),
        findings_of(
            "stem-grew-fast",
            alive.filter(pl.col("growth_cm_per_year") > most),
            file,
            pl.format("plot {}, tree {} had {} cm and has {} cm: {}", "plot", "tree", *sizes, fast),
            plot="plot",
        ),
        findings_of(
            "stem-new-and-thick",
            rows.filter(
                (pl.col("fate") == INGROWTH) & (pl.col("dbh_cm_new") > min_dbh_cm + most * pl.col("years"))
            ),
            file,
            pl.format(
                "plot {}, tree {} has {} cm but is not in the old survey, where stems from {} cm counted: it would "
                "have grown by {}",
                "plot",
                "tree",
                sizes[1],
                pl.lit(min_dbh_cm),
                fast,
            ),
            plot="plot",
        ),
        findings_of(
            "stem-other-species",
            alive.filter(pl.col("species_old") != pl.col("species_new")),
            file,
            pl.format("plot {}, tree {} was {} and is {}", "plot", "tree", "species_old", "species_new"),
            plot="plot",
            column=pl.lit("species"),
            value="species_new",
        ),
    ]
