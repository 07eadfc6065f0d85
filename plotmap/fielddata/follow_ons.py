"""Findings that only follow from another finding are left out, so that what is told is what is to be mended."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from plotmap.fielddata.headings import understand
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.findings import Findings
from plotmap.model.settings import Settings

_SURVEY: tuple[str, ...] = ()
_FILE, _ROW = ("file",), ("file", "row")
_PLACES = (
    "plot-outside", "plots-elsewhere", "plot-on-boundary", "plot-in-overlap", "plot-compartment-differs",
    "plot-crosses-boundary", "compartment-area-differs", "no-plots-left", "plot-near-boundary", "positions-coarse",
)  # fmt: skip
_CELLS_AND_READINGS = (
    "number-unreadable", "date-unreadable", "choice-unknown", "value-missing", "value-out-of-range",
    "stem-without-diameter", "stem-not-positive", "readings-differ", "girth-like-diameter", "diameter-like-girth",
    "instrument-unknown", "height-below-breast-height",
)  # fmt: skip
"""What a line with cells too many holds stands in the wrong columns."""
_NO_CRS = ("compartments-without-crs", "crs-not-metric", "datum-ballpark")
_POSITION = ("easting", "northing", "lon", "lat")


@dataclass(frozen=True, slots=True)
class _FollowOn:
    """A finding that is left out where its cause is found in the same place; of certain columns where stated."""

    code: str
    cause: str
    place: tuple[str, ...]
    columns: tuple[str, ...] = ()


_FOLLOW_ONS = (
    *(_FollowOn(code, cause, _SURVEY) for code in _PLACES for cause in _NO_CRS),
    _FollowOn("no-plots-left", "plots-elsewhere", _SURVEY),
    _FollowOn("compartment-area-differs", "compartment-invalid", _ROW),
    _FollowOn("compartment-empty", "compartment-invalid", _ROW),
    _FollowOn("plot-without-position", "column-missing", _FILE, _POSITION),
    _FollowOn("plot-without-position", "number-unreadable", _ROW, _POSITION),
    _FollowOn("plot-without-waypoint", "number-unreadable", _ROW, _POSITION),
    _FollowOn("plot-without-position", "waypoint-twice", ("plot",)),
    _FollowOn("plot-without-position", "value-out-of-range", _ROW, _POSITION),
    _FollowOn("plot-without-size", "number-unreadable", _ROW,
              ("radius_m", "area_m2", "length_m", "width_m", "baf_m2_per_ha")),
    _FollowOn("slope-missing", "number-unreadable", _ROW, ("slope_pct",)),
    _FollowOn("plot-date-missing", "date-unreadable", _ROW, ("date",)),
    _FollowOn("plot-without-stems", "choice-unknown", _ROW, ("state",)),
    _FollowOn("stem-without-diameter", "column-missing", _FILE, ("d1_cm",)),
    _FollowOn("stem-without-diameter", "number-unreadable", _ROW),
    *(
        _FollowOn(code, cause, _ROW)
        for code in ("value-missing", "stem-without-diameter", "plot-without-position", "plot-without-size",
                     "plot-without-compartment", "plot-date-missing", "slope-missing")
        for cause in ("cell-error", "formula-without-value")
    ),
    *(
        _FollowOn(code, "identifier-is-date", _ROW)
        for code in ("stem-without-plot", "tally-without-plot", "check-plot-unknown", "species-unknown",
                     "plot-compartment-differs", "plot-compartment-unknown", "instrument-unknown",
                     "tally-class-unknown", "stem-twice", "plot-twice", "tally-twice")
    ),
    *(_FollowOn(code, "line-too-long", _ROW) for code in _CELLS_AND_READINGS),
    _FollowOn("plot-compartment-unknown", "column-missing", _SURVEY, ("compartment",)),
    _FollowOn("stem-without-position", "number-unreadable", _ROW, ("azimuth_deg", "distance_m")),
)  # fmt: skip


def without_follow_ons(findings: Findings, sources: Mapping[str, str], settings: Settings) -> Findings:
    """Leave out findings that only follow from another one.

    Parameters
    ----------
    findings : Findings
        All of a survey.
    sources : mapping of str to str
        File of each table.
    settings : Settings
        For own headings: findings name columns as the file does.

    Returns
    -------
    Findings
        In their order. A date that cannot be read, for instance, does not also count as missing. As every
        cause is a finding itself, nothing that is wrong goes untold.
    """
    frame = _with_names(findings.frame, sources, settings)
    kept = frame
    for rule in _FOLLOW_ONS:
        causes = frame.filter(pl.col("code") == rule.cause)
        if rule.columns:
            causes = causes.filter(pl.col("_name").is_in(list(rule.columns)))
        if not causes.height:
            continue
        follows = pl.col("code") == rule.code
        if rule.place:
            same = pl.struct(rule.place).is_in(causes.select(pl.struct(rule.place)).to_series().implode())
            follows &= same
        kept = kept.filter(~follows)
    return Findings(kept.drop("_name"))


def _with_names(frame: pl.DataFrame, sources: Mapping[str, str], settings: Settings) -> pl.DataFrame:
    """Add ``_name``: the column a finding is about as plotmap spells it; missing where it is none."""
    tables = {source: name for name, source in sources.items()}
    declared = {table.name: table for table in FIELD_TABLES}
    pairs = frame.select("file", "column").unique().drop_nulls()
    names: list[str | None] = []
    for file, column in pairs.rows():
        table = declared.get(tables.get(file, ""))
        own = settings.columns.get(table.name, {}) if table else {}
        by_own = {heading.strip().casefold(): target for heading, target in own.items()}
        heading = understand(table, by_own.get(column.strip().casefold(), column)) if table else None
        names.append(heading.name if heading else None)
    known = pairs.with_columns(pl.Series("_name", names, dtype=pl.String))
    return frame.join(known, on=["file", "column"], how="left", maintain_order="left")
