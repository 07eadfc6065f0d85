"""The stage of the stems: from what was read and tallied to diameters, cross-sections and size classes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import CUT, DEAD, LIVE, NO_SPECIES
from plotmap.model.findings import Findings
from plotmap.model.stem_table import MEASURED_SCHEMA, SET_ASIDE_SCHEMA, Stems
from plotmap.stems.bands import band_findings
from plotmap.stems.checks import reading_checks
from plotmap.stems.diameters import diameter_findings, with_diameters, with_readings
from plotmap.stems.height_checks import height_checks, volume_checks
from plotmap.stems.instrument_log import instrument_log
from plotmap.stems.instruments import with_checks
from plotmap.stems.section import section_effect
from plotmap.stems.sheet_checks import sheet_checks
from plotmap.stems.spelling import capitals
from plotmap.stems.tallies import share_out

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection
    from plotmap.model.survey import Survey

_DECIMALS = 6
"""Diameters are compared with the smallest one after rounding to a hundred-millionth of a metre."""
_LARGEST_CM = 1e6
"""Larger diameters are faults that reading has found; they are put in this one's class."""


def measure_stems(survey: Survey) -> Stems:
    """Turn readings into diameters and tallies into stems of size classes.

    Caliper readings and girths are corrected for rounding, zero and gain of the instrument check in force;
    several readings become one diameter by the mean of the settings; a climber is taken off a girth by the
    geometry of a belt round two circles; readings over and under bark are brought to the basis of the settings;
    what the random error of an instrument adds to squared diameters is taken off. Tally rows are
    shared out over size classes by a linear density. All common practice but for the geometry and the
    density, which `plotmap.stems.girth` and `plotmap.statistics.grouped` give the sources of.

    Parameters
    ----------
    survey : Survey
        Reads ``trees``, ``tallies``, ``instruments``, ``species``, the dates of ``plots``, and the settings
        of stems and classes. Any cell may be missing, any table empty.

    Returns
    -------
    Stems
        Stems that count, tally rows by size class, findings, and the rows set aside by reason: dead stems
        unless the settings count all, stems that were cut, stems without a diameter or below the smallest one.
        ``source_row`` leads back to the row of the file.
    """
    settings = survey.settings
    trees_file, tallies_file = (survey.sources.get(name, name) for name in ("trees", "tallies"))
    checked = with_checks(with_readings(survey.trees), survey)
    stems = with_diameters(checked.stems, survey.species, settings.stems).with_columns(
        _reason(settings.stems)
    )
    alive = stems.filter(pl.col("reason").is_null() | ~pl.col("reason").is_in([DEAD, CUT]))
    tallied, tally_reasons, found_in_tallies = share_out(checked.tallies, settings, tallies_file)
    findings = [
        checked.findings,
        diameter_findings(alive, trees_file),
        reading_checks(stems, _homes(survey), settings.stems, trees_file),
        sheet_checks(alive, survey.species, settings.stems, trees_file),
        capitals(survey),
        band_findings(settings.bands),
        found_in_tallies,
    ]
    counted = stems.filter(pl.col("reason").is_null()).with_columns(
        pl.col("species").fill_null(NO_SPECIES),
        pl.col("condition").fill_null(LIVE),
        pl.col("times").fill_null(1.0),
        (pl.col("dbh_cm").pow(2) - pl.col("excess_cm2")).alias("square_cm2"),
        settings.class_rule.index(pl.col("dbh_cm").clip(upper_bound=_LARGEST_CM)).alias("class_index"),
        pl.col("climber_found").alias("climber"),
    )
    findings += [
        height_checks(counted, survey.species, settings, trees_file),
        volume_checks(counted, survey.species, settings, trees_file),
        volume_checks(tallied, survey.species, settings, tallies_file),
    ]
    return Stems(
        measured=counted.select(MEASURED_SCHEMA.names()).cast(MEASURED_SCHEMA),
        tallied=tallied,
        findings=Findings.join(findings),
        set_aside=pl.concat([_set_aside("trees", stems["reason"]), _set_aside("tallies", tally_reasons)]),
        instrument_log=instrument_log(checked.checks, counted),
        section_effect=section_effect(counted, settings.stems.section),
    )


def _homes(survey: Survey) -> pl.DataFrame:
    """Return ``plot`` and ``home``: the compartment a plot lies in, else the one the crew wrote."""
    columns = survey.plots[["plot", "located_in", "compartment"]].astype(object)
    plots: pl.DataFrame = pl.from_pandas(columns.where(columns.notna(), None))
    plots = plots.cast(pl.String)
    home = pl.coalesce("located_in", "compartment").alias("home")
    return plots.filter(pl.col("plot").is_not_null()).unique("plot", keep="first").select("plot", home)


def _reason(settings: StemsSection) -> pl.Expr:
    """Say why a stem is set aside; missing where it counts."""
    dead = pl.lit(settings.count == "live") & (pl.col("condition") == DEAD)
    small = pl.col("dbh_cm").round(_DECIMALS) < settings.min_dbh_cm
    return (
        pl.when(dead)
        .then(pl.lit(DEAD))
        .when(pl.col("condition") == CUT)
        .then(pl.lit(CUT))
        .when(pl.col("fault").is_not_null())
        .then("fault")
        .when(small)
        .then(pl.lit(f"below {settings.min_dbh_cm:g} cm"))
        .alias("reason")
    )


def _set_aside(table: str, reasons: pl.Series) -> pl.DataFrame:
    """Count the rows of a table that are set aside, by reason."""
    counts = (
        reasons.alias("reason")
        .drop_nulls()
        .to_frame()
        .group_by("reason")
        .agg(pl.len().alias("rows"))
        .sort("reason")
    )
    return counts.select(pl.lit(table).alias("table"), "reason", "rows").cast(SET_ASIDE_SCHEMA)
