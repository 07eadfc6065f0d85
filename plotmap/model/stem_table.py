"""What the stage of the stems hands on: stems with diameters, tally rows shared out over size classes."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from plotmap.model.findings import Findings

MEASURED_SCHEMA = pl.Schema(
    {
        "plot": pl.String,
        "tree": pl.String,
        "species": pl.String,
        "condition": pl.String,
        "times": pl.Float64,
        "dbh_cm": pl.Float64,
        "over_bark_cm": pl.Float64,
        "square_cm2": pl.Float64,
        "class_index": pl.Int32,
        "reading": pl.String,
        "correction_mm": pl.Float64,
        "roundness": pl.Float64,
        "climber": pl.String,
        "bark_by": pl.String,
        "instrument": pl.String,
        "check_row": pl.Int64,
        "dbh_variance_cm2": pl.Float64,
        "height_m": pl.Float64,
        "source_row": pl.Int64,
    }
)
TALLIED_SCHEMA = pl.Schema(
    {
        "plot": pl.String,
        "species": pl.String,
        "tallied_as": pl.String,
        "band_letter": pl.String,
        "class_index": pl.Int32,
        "count": pl.Float64,
        "dbh_cm": pl.Float64,
        "square_cm2": pl.Float64,
        "from_cm": pl.Float64,
        "to_cm": pl.Float64,
        "source_row": pl.Int64,
    }
)
SET_ASIDE_SCHEMA = pl.Schema({"table": pl.String, "reason": pl.String, "rows": pl.Int64})


@dataclass(frozen=True, slots=True)
class Stems:
    """The stems of a survey, ready to be summed by plot.

    Attributes
    ----------
    measured : polars.DataFrame
        Columns of `MEASURED_SCHEMA`, one row a stem that counts, in the order of the file. ``dbh_cm`` is the
        diameter in cm after all corrections, over or under bark as the settings say; ``over_bark_cm`` the one over
        bark, as the crew saw the stem (missing where its bark is not known); ``square_cm2``, from which
        basal area is computed, is its square less what the instrument's random error adds to it on average.
        ``dbh_variance_cm2`` is the variance of the diameter that the random error of single readings makes, 0 where
        that is not known, and ``check_row`` the row of the instrument check in force, missing without one.
        ``roundness``, ``climber`` and ``bark_by`` are those of `TREE_RESULTS`. ``species`` is `NO_SPECIES`,
        ``times`` 1 and ``condition`` live where missing in the file. ``reading`` is what was read, in cm;
        ``correction_mm`` the corrected diameter less the mean of the readings as a diameter, in mm, 0 where
        nothing was corrected.
    tallied : polars.DataFrame
        Columns of `TALLIED_SCHEMA`, one row for each size class that a tally row reaches into. ``count`` is
        the number of stems of the part (not whole where a band spans classes), ``dbh_cm`` their mean
        diameter in cm and ``square_cm2`` the mean square of their diameters in cm². ``from_cm`` and ``to_cm`` are
        the corrected edges of the whole class or band tallied, as diameters in cm; ``to_cm`` is infinite where
        it is open above. ``band_letter`` is missing for classes.
    instrument_log, section_effect : polars.DataFrame
        `INSTRUMENT_LOG_RESULTS` and `SECTION_EFFECT_RESULTS`; empty where there is nothing to tell.
    findings : Findings
        What was odd about readings, instruments and tallies.
    set_aside : polars.DataFrame
        Columns of `SET_ASIDE_SCHEMA`: for ``trees`` and ``tallies`` the input rows that are in neither
        frame, by reason.
    """

    measured: pl.DataFrame
    tallied: pl.DataFrame
    findings: Findings
    set_aside: pl.DataFrame
    instrument_log: pl.DataFrame
    section_effect: pl.DataFrame
