"""Checks of heights, and of what height curves and volumes need. Nothing is changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import DEAD
from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings_heights import ANY_SPECIES

if TYPE_CHECKING:
    from plotmap.model.settings import Settings

_CM_PER_M = 100.0
_ROUND_OFF = 1e-9


def height_checks(counted: pl.DataFrame, species: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Return what is odd about the heights of the stems that count.

    Parameters
    ----------
    counted : polars.DataFrame
        ``plot``, ``species``, ``condition``, ``dbh_cm``, ``height_m`` (missing where not measured) and
        ``source_row``.
    species : polars.DataFrame
        Reads ``species`` and ``group``.
    settings : Settings
        Breast height, the band of slenderness and the fewest pairs of a curve.
    file : str
        File the stems come from.

    Returns
    -------
    Findings
        ``height-below-breast-height``, ``height-not-plausible``, ``height-of-dead-stem`` and
        ``too-few-heights``.
    """
    measured = counted.filter(pl.col("height_m").is_not_null())
    floor = settings.stems.breast_height_m
    dead = pl.col("condition") == DEAD
    usable = measured.filter((pl.col("height_m") > floor) & ~dead & (pl.col("dbh_cm") > 0))
    low = findings_of(
        "height-below-breast-height",
        measured.filter(pl.col("height_m") <= floor),
        file,
        pl.format(
            f"the height is {{}} m, but a stem with a diameter at breast height is higher than {floor:g} m",
            "height_m",
        ),
        plot="plot",
        column="height_m",
        value="height_m",
    )
    of_dead = findings_of(
        "height-of-dead-stem",
        measured.filter(dead),
        file,
        pl.format("the stem is dead, and its height of {} m is not used for the height curve", "height_m"),
        plot="plot",
        column="height_m",
        value="height_m",
    )
    return Findings.join(
        [low, of_dead, _slenderness(usable, settings, file), _few(usable, species, settings, file)]
    )


def _slenderness(usable: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Find trees that are too slender, or too stout."""
    least, most = settings.heights.min_slenderness, settings.heights.max_slenderness
    told = usable.with_columns((pl.col("height_m") * _CM_PER_M / pl.col("dbh_cm")).alias("slenderness"))
    beyond = (pl.col("slenderness") < least - _ROUND_OFF) | (pl.col("slenderness") > most + _ROUND_OFF)
    return findings_of(
        "height-not-plausible",
        told.filter(beyond),
        file,
        pl.format(
            f"a height of {{}} m at a diameter of {{}} cm is {{}} times as much; {least:g} to {most:g} is plausible",
            "height_m",
            pl.col("dbh_cm").round(1),
            pl.col("slenderness").round(1),
        ),
        plot="plot",
        column="height_m",
        value="height_m",
    )


def _few(usable: pl.DataFrame, species: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Find species that have heights, but too few for a curve of their own."""
    fewest = settings.heights.min_pairs
    groups = species.select("species", "group").unique("species", keep="first")
    named = usable.join(groups, on="species", how="left").with_columns(
        pl.coalesce("group", "species").alias("own")
    )
    few = (
        named.group_by("own")
        .agg(pl.len().alias("pairs"), pl.col("source_row").min())
        .filter(pl.col("pairs") < fewest)
        .sort("own")
    )
    then = (
        f"it takes the curve of all species, made from {usable.height}"
        if usable.height >= fewest
        else f"all species together have {usable.height}, so there is no curve"
    )
    return findings_of(
        "too-few-heights",
        few,
        file,
        pl.format(f"{{}} has {{}} of the {fewest} heights that a height curve needs; {then}", "own", "pairs"),
        column="height_m",
        value="pairs",
    )


def volume_checks(stems: pl.DataFrame, species: pl.DataFrame, settings: Settings, file: str) -> Findings:
    """Return volume-without-equation: species that stand and have neither equation nor form factor.

    Parameters
    ----------
    stems : polars.DataFrame
        ``species`` and ``source_row`` of stems that count, or of tallied parts.
    species : polars.DataFrame
        Reads ``species``, ``group`` and ``form_factor``.
    settings : Settings
        Equations.
    file : str
        File the stems come from.
    """
    table = species.select("species", "group", "form_factor").unique("species", keep="first")
    known = {entry.species for entry in settings.volume.equations}
    factors = table.filter(pl.col("form_factor").is_not_null())["species"]
    if ANY_SPECIES in known or not (known or len(factors)):
        return Findings.none()
    known |= set(factors)
    first = stems.group_by("species").agg(pl.col("source_row").min()).join(table, on="species", how="left")
    without = first.filter(
        ~pl.col("species").is_in(known) & ~pl.col("group").is_in(known).fill_null(value=False)
    ).sort("species")
    return findings_of(
        "volume-without-equation",
        without,
        file,
        pl.format(
            "{} has no volume equation and no form factor, so that no volume is given where it stands",
            "species",
        ),
        column="species",
        value="species",
    )
