"""Checks of whole columns of stems: units that do not fit, rounding, oval species, climbers. Nothing is converted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.stems.diameters import NOT_KNOWN, not_whole
from plotmap.stems.section import reading_columns, several

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection

_MIN_READINGS = 10
_USUAL_CM = (3.0, 100.0)
"""Diameters between which the median of a column lies (common practice, no source)."""


def sheet_checks(stems: pl.DataFrame, species: pl.DataFrame, settings: StemsSection, file: str) -> Findings:
    """Return what is odd about the columns of the stems as a whole.

    Parameters
    ----------
    stems : polars.DataFrame
        Stems after `plotmap.stems.diameters.with_diameters`.
    species : polars.DataFrame
        Reads ``species`` and ``oval``.
    settings : StemsSection
        Reads ``rounding``.
    file : str
        File the stems come from.

    Returns
    -------
    Findings
        ``readings-look-like-other-unit``, ``rounding-not-whole``, ``single-reading-oval`` and
        ``climber-without-size``.
    """
    columns = [*reading_columns(stems), "girth_cm"]
    return Findings.join(
        [
            *(_other_unit(stems, name, file) for name in columns),
            _not_whole(stems, columns, file) if settings.rounding == "down" else Findings.none(),
            _oval(stems, species, file),
            _climbers(stems, file),
        ]
    )


def _other_unit(stems: pl.DataFrame, column: str, file: str) -> Findings:
    """Find a column whose readings, as written, are far from the sizes of trees."""
    per_diameter = math.pi if column == "girth_cm" else 1.0
    low, high = (size * per_diameter for size in _USUAL_CM)
    cells = stems.select(pl.col(column), "source_row").drop_nulls()
    if cells.height < _MIN_READINGS:
        return Findings.none()
    middle, first = cells.select(pl.col(column).median(), pl.col("source_row").min()).row(0)
    base = column.removesuffix("_cm")
    if middle > high:
        hint = f"If they were read in millimetres, head the column {base}_mm; otherwise correct the readings."
    elif middle < low:
        hint = (
            f"If they were read in centimetres, head the column {base}_cm; if in inches, {base}_in. Otherwise "
            "nothing needs to be done."
        )
    else:
        return Findings.none()
    message = (
        f"the median of the {cells.height} readings is {middle:.4g} cm by the unit of the heading; medians from "
        f"{low:.3g} to {high:.4g} cm are usual"
    )
    return finding(
        "readings-look-like-other-unit",
        file,
        message,
        row=first,
        column=column,
        value=f"{middle:.4g}",
        hint=hint,
    )


def _not_whole(stems: pl.DataFrame, columns: list[str], file: str) -> Findings:
    """Count readings with decimals where crews are said to have cut them off."""
    flags = stems.select(
        "source_row",
        "plot",
        "reading",
        pl.sum_horizontal(not_whole(name).fill_null(value=False) for name in columns).alias("cut"),
        pl.sum_horizontal(pl.col(name).is_not_null() for name in columns).alias("all"),
    )
    n_read, n_found = flags["all"].sum(), flags["cut"].sum()
    first = flags.filter(pl.col("cut") > 0).sort("source_row").head(1)
    message = (
        f"{n_found} of {n_read} readings are not whole centimetres, so they were not rounded down to them; "
        "nothing is added to these"
    )
    if n_found == 1:
        one = "the only reading" if n_read == 1 else f"1 of {n_read} readings"
        message = (
            f"{one} is not in whole centimetres, so it was not rounded down to them; nothing is added to it"
        )
    return findings_of(
        "rounding-not-whole",
        first,
        file,
        pl.lit(message),
        plot="plot",
        value="reading",
    )


def _oval(stems: pl.DataFrame, species: pl.DataFrame, file: str) -> Findings:
    """Find single caliper readings of oval species, one finding a species."""
    oval = species.filter(pl.col("oval") == "yes")["species"].drop_nulls().unique().to_list()
    if not oval:
        return Findings.none()
    single = (
        stems.filter(
            (pl.col("measured_by") == CALIPER)
            & pl.col("species").is_in(oval)
            & (several(reading_columns(stems)) == 1)
        )
        .sort("source_row")
        .group_by("species", maintain_order=True)
        .agg(pl.col("source_row", "plot").first(), pl.len().alias("stems"))
    )
    return findings_of(
        "single-reading-oval",
        single,
        file,
        pl.format(
            "species {} is known to be oval, but has stems with a single caliper reading (stems: {}); two at right "
            "angles, or the girth, are needed",
            "species",
            "stems",
        ),
        plot="plot",
        column="d1_cm",
        value="species",
    )


def _climbers(stems: pl.DataFrame, file: str) -> Findings:
    """Count girths round a climber whose size was not measured."""
    found = stems.filter(pl.col("climber_found") == NOT_KNOWN)
    n_girths = (stems["measured_by"] == TAPE).sum()
    message = (
        f"{found.height} of {n_girths} girths were read round a climber whose climber_mm is not given; they are used "
        "as they stand, and so are too large"
    )
    if found.height == 1:
        one = "the only girth" if n_girths == 1 else f"1 of {n_girths} girths"
        message = (
            f"{one} was read round a climber whose climber_mm is not given; it is used as it stands, and so is too "
            "large"
        )
    return findings_of(
        "climber-without-size",
        found.sort("source_row").head(1),
        file,
        pl.lit(message),
        plot="plot",
        column="climber_mm",
    )
