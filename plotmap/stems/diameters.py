"""From readings to one diameter a stem: rounding, zero, gain, mean of the section, climber, bark."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import SectionMean
from plotmap.stems.girth import diameter_in_belt_cm
from plotmap.stems.instruments import corrected

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection

HALF_UNIT_CM = 0.5
"""What crews who wrote whole centimetres rounded down left off in the mean."""
WITHOUT, NOT_POSITIVE, NO_BARK = "no diameter", "nothing left of the diameter", "bark not known"
"""Words of ``fault``: why a stem has no diameter."""
_READING = re.compile(r"^d(\d+)_cm$")
_MM_PER_CM = 10.0
_DECIMALS = 3


def reading_columns(stems: pl.DataFrame) -> list[str]:
    """Return the caliper columns ``d1_cm`` … ``dn_cm`` that are there, in the order of their numbers."""
    numbers = {name: int(found[1]) for name in stems.columns if (found := _READING.match(name))}
    return sorted(numbers, key=numbers.__getitem__)


def corrected_name(column: str) -> str:
    """Return the name of the corrected reading of a column: ``d1_cm_corrected``."""
    return f"{column}_corrected"


def section_mean(readings_cm: Sequence[str], rule: SectionMean) -> pl.Expr:
    """Return the mean diameter of the readings that are there.

    Parameters
    ----------
    readings_cm : sequence of str
        Columns of readings in cm; missing ones are passed over.
    rule : SectionMean
        Arithmetic mean, geometric mean, or quadratic mean (root of the mean square).

    Returns
    -------
    polars.Expr
        Mean in cm; missing where there is no reading or one of them is not positive.
    """
    if not readings_cm:
        return pl.lit(None, pl.Float64)
    columns = [pl.col(name) for name in readings_cm]
    if rule is SectionMean.GEOMETRIC:
        mean = pl.mean_horizontal(column.log() for column in columns).exp()
    elif rule is SectionMean.QUADRATIC:
        mean = pl.mean_horizontal(column.pow(2) for column in columns).sqrt()
    else:
        mean = pl.mean_horizontal(columns)
    several = pl.sum_horizontal(column.is_not_null() for column in columns) > 1
    return pl.when(pl.min_horizontal(columns) > 0).then(
        pl.when(several).then(mean).otherwise(pl.coalesce(columns))
    )


def with_readings(stems: pl.DataFrame) -> pl.DataFrame:
    """Add ``measured_by`` (`CALIPER` where there is a caliper reading, else `TAPE`) and ``reading`` as text.

    Both are missing where the stem has neither. NaN among the numbers becomes missing.
    """
    readings = reading_columns(stems)
    numbers = [*readings, "girth_cm", "bark_mm", "climber_mm", "height_m", "times"]
    clean = stems.with_columns(pl.col(numbers).cast(pl.Float64).fill_nan(None))
    calipered = pl.any_horizontal(pl.lit(value=False), *(pl.col(name).is_not_null() for name in readings))
    texts = [_number_text(name) for name in readings] or [pl.lit(None, pl.String)]
    listed = pl.concat_str(texts, separator=", ", ignore_nulls=True)
    taped = pl.col("girth_cm").is_not_null()
    return clean.with_columns(
        pl.when(calipered).then(pl.lit(CALIPER)).when(taped).then(pl.lit(TAPE)).alias("measured_by"),
        pl.when(calipered)
        .then(pl.format("calipers {} cm", listed))
        .when(taped)
        .then(pl.format("girth {} cm", _number_text("girth_cm")))
        .alias("reading"),
    )


def _number_text(column: str) -> pl.Expr:
    """Return a number as text without needless decimals."""
    return pl.col(column).round(_DECIMALS).cast(pl.String).str.strip_suffix(".0")


def with_diameters(stems: pl.DataFrame, species: pl.DataFrame, settings: StemsSection) -> pl.DataFrame:
    """Add the diameter of every stem.

    In this order: half a unit is added to every reading where the crews rounded down; zero and gain of the
    check in force; the mean of the caliper readings, or else the girth less its climber, over π; bark.
    Caliper readings are used where there are any; a girth beside them only serves the checks.

    Parameters
    ----------
    stems : polars.DataFrame
        Stems after `with_readings` and `with_checks`.
    species : polars.DataFrame
        Reads ``species`` and ``bark_factor``.
    settings : StemsSection
        Reads ``rounding``, ``section`` and ``bark``.

    Returns
    -------
    polars.DataFrame
        With the corrected readings (`corrected_name`), ``girth_diameter_cm`` (of the girth, after climber),
        ``raw_caliper_cm`` (mean of the readings as written), ``dbh_cm``, ``correction_mm`` and ``fault`` (a
        word where there is no diameter, missing otherwise).
    """
    readings = reading_columns(stems)
    allowance = HALF_UNIT_CM if settings.rounding == "down" else 0.0
    made = stems.with_columns(
        *(corrected(pl.col(name), CALIPER, allowance).alias(corrected_name(name)) for name in readings),
        corrected(pl.col("girth_cm"), TAPE, allowance).alias(corrected_name("girth_cm")),
        section_mean(readings, settings.section).alias("raw_caliper_cm"),
    )
    by_caliper = pl.col("measured_by") == CALIPER
    calipers = section_mean([corrected_name(name) for name in readings], settings.section)
    outside = pl.when(by_caliper).then(calipers).otherwise("girth_diameter_cm").alias("outside_cm")
    raw = pl.when(by_caliper).then("raw_caliper_cm").otherwise(pl.col("girth_cm") / math.pi)
    made = made.with_columns(_girth_diameters(made)).with_columns(outside)
    made = made.with_columns(_less_bark(made, species, settings))
    return made.with_columns(_fault(), ((pl.col("dbh_cm") - raw) * _MM_PER_CM).alias("correction_mm"))


def _girth_diameters(stems: pl.DataFrame) -> pl.Series:
    """Return the diameters of girths in cm, climbers taken off; missing where nothing is left."""
    girth = corrected_name("girth_cm")
    plain = stems.select(pl.when(pl.col(girth) > 0).then(pl.col(girth) / math.pi)).to_series()
    rows = stems.select(
        ((pl.col("climber_mm") > 0) & pl.col(girth).is_not_null()).fill_null(value=False).arg_true()
    ).to_series()
    climbed = stems[rows].select(girth, pl.col("climber_mm") / _MM_PER_CM)
    solved = diameter_in_belt_cm(climbed[girth].to_numpy(), climbed["climber_mm"].to_numpy())
    diameters = plain.scatter(rows, pl.Series(solved)) if rows.len() else plain
    return diameters.fill_nan(None).alias("girth_diameter_cm")


def _less_bark(stems: pl.DataFrame, species: pl.DataFrame, settings: StemsSection) -> pl.Series:
    """Return diameters on the basis of the settings in cm; missing where not positive or bark not known."""
    if settings.bark == "over":
        return stems["outside_cm"].alias("dbh_cm")
    factors = species.select("species", pl.col("bark_factor").cast(pl.Float64).fill_nan(None)).unique(
        "species", keep="first", maintain_order=True
    )
    outside = pl.col("outside_cm")
    under = pl.coalesce(outside - 2 * pl.col("bark_mm") / _MM_PER_CM, outside * pl.col("bark_factor"))
    return (
        stems.select("species", "outside_cm", "bark_mm")
        .join(factors, on="species", how="left", maintain_order="left")
        .select(pl.when(under > 0).then(under).alias("dbh_cm"))
        .to_series()
    )


def _fault() -> pl.Expr:
    """Say why there is no diameter."""
    return (
        pl.when(pl.col("dbh_cm").is_not_null())
        .then(pl.lit(None, pl.String))
        .when(pl.col("measured_by").is_null())
        .then(pl.lit(WITHOUT))
        .when(pl.col("outside_cm").is_null() | pl.col("bark_mm").is_not_null())
        .then(pl.lit(NOT_POSITIVE))
        .otherwise(pl.lit(NO_BARK))
        .alias("fault")
    )


def diameter_findings(stems: pl.DataFrame, file: str) -> Findings:
    """Return the findings about stems that have no diameter.

    Parameters
    ----------
    stems : polars.DataFrame
        Stems that count, after `with_diameters`.
    file : str
        File they come from.
    """
    stem = stem_text()
    without = findings_of(
        "stem-without-diameter",
        stems.filter(pl.col("fault") == WITHOUT),
        file,
        pl.format("{}neither a caliper reading nor a girth; one of them is needed", stem),
        plot="plot",
        column="d1_cm",
    )
    left = [f"{word} {{}} mm" for word in ("zero", "climber", "single bark")]
    nothing = findings_of(
        "stem-not-positive",
        stems.filter(pl.col("fault") == NOT_POSITIVE),
        file,
        pl.format(
            f"{{}}nothing is left of {{}} after {', '.join(left)}; a diameter must be more than 0 cm",
            stem,
            "reading",
            (pl.col("zero_cm") * _MM_PER_CM).round(_DECIMALS),
            pl.col("climber_mm").fill_null(0.0),
            pl.col("bark_mm").fill_null(0.0),
        ),
        plot="plot",
        column=used_column(stems),
        value="reading",
    )
    barkless = (
        stems.filter(pl.col("fault") == NO_BARK)
        .group_by("species")
        .agg(pl.len().alias("stems"), pl.col("source_row").min(), pl.col("plot").first())
    )
    bark = findings_of(
        "bark-unknown",
        barkless,
        file,
        pl.format(
            "species {}: neither bark_mm nor a bark_factor of the species (0.5 to 1) is given; diameters "
            "under bark need one of them (stems: {})",
            pl.col("species").fill_null("not recorded"),
            "stems",
        ),
        plot="plot",
        column="bark_mm",
        value="species",
    )
    return Findings.join([without, nothing, bark])


def stem_text() -> pl.Expr:
    """Return how messages begin: ``tree 7: ``, or nothing where the stem has no number."""
    return pl.format("tree {}: ", "tree").fill_null("")


def used_column(stems: pl.DataFrame) -> pl.Expr:
    """Return the name of the first column a stem was read in: a caliper column, else the girth."""
    names = [pl.when(pl.col(name).is_not_null()).then(pl.lit(name)) for name in reading_columns(stems)]
    return pl.coalesce(*names, pl.lit("girth_cm"))
