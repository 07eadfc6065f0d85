"""From readings to one diameter a stem: rounding, zero, gain, mean of the section, climber, bark."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.findings import Findings, findings_of
from plotmap.stems.bark import with_basis
from plotmap.stems.girth import diameter_in_belt_cm
from plotmap.stems.instruments import corrected
from plotmap.stems.section import corrected_name, error_share, reading_columns, roundness, section_mean

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection

HALF_UNIT_CM = 0.5
"""What crews who wrote whole centimetres rounded down left off in the mean."""
TAKEN_OFF, NOT_KNOWN = "taken off", "not known"
"""Words of ``climber_found``: what became of the climber in a girth."""
WITHOUT, NOT_POSITIVE, NO_BARK = "no diameter", "nothing left of the diameter", "bark not known"
"""Words of ``fault``: why a stem has no diameter."""
_MM_PER_CM = 10.0
_DECIMALS = 3
_WHOLE_CM = 1e-6
"""A reading this near to a whole centimetre is one."""


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

    In this order: half a unit is added to every whole reading where the crews rounded down; zero and gain of
    the check in force; the mean of the caliper readings, or else the girth less its climber, over π; bark.
    Caliper readings are used where there are any; a girth beside them only serves the checks. What the
    instrument's random error adds to the square on average is told beside it (`plotmap.stems.section.error_share`).

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
        ``raw_caliper_cm`` (mean of the readings as written), ``outside_cm`` (diameter on the basis of the
        reading), ``dbh_cm``, ``bark_by``, ``roundness``, ``climber_found`` (words), ``excess_cm2`` (what random error
        adds to the squared diameter on average), ``dbh_variance_cm2`` (what it makes of the diameter's variance; both
        in cm², 0 where it is not known), ``correction_mm`` and ``fault`` (a word where there is no diameter,
        missing otherwise).
    """
    readings = reading_columns(stems)
    down = settings.rounding == "down"
    made = stems.with_columns(
        *(
            corrected(pl.col(name), CALIPER, _allowance(name, down=down)).alias(corrected_name(name))
            for name in readings
        ),
        corrected(pl.col("girth_cm"), TAPE, _allowance("girth_cm", down=down)).alias(
            corrected_name("girth_cm")
        ),
        section_mean(readings, settings.section).alias("raw_caliper_cm"),
    )
    by_caliper = pl.col("measured_by") == CALIPER
    calipers = section_mean([corrected_name(name) for name in readings], settings.section)
    outside = pl.when(by_caliper).then(calipers).otherwise("girth_diameter_cm").alias("outside_cm")
    raw = pl.when(by_caliper).then("raw_caliper_cm").otherwise(pl.col("girth_cm") / math.pi)
    made = made.with_columns(_girth_diameters(made)).with_columns(outside)
    made = with_basis(made, species, settings.bark)
    return made.with_columns(
        _fault(),
        ((pl.col("dbh_cm") - raw) * _MM_PER_CM).alias("correction_mm"),
        roundness(readings).alias("roundness"),
        _climber().alias("climber_found"),
        *_random_error(made, settings),
    )


def _allowance(column: str, *, down: bool) -> pl.Expr | float:
    """Return what is added to the readings of a column in cm: half a unit to whole ones that were rounded down."""
    if not down:
        return 0.0
    return pl.when(not_whole(column)).then(0.0).otherwise(HALF_UNIT_CM)


def not_whole(column: str) -> pl.Expr:
    """Say of readings in cm whether they have decimals; missing where they are."""
    return (pl.col(column) - pl.col(column).round(0)).abs() > _WHOLE_CM


def _climber() -> pl.Expr:
    """Say what became of a climber that is inside the girth that was used."""
    return pl.when(pl.col("measured_by") == TAPE).then(
        pl.when(pl.col("climber_mm") > 0)
        .then(pl.lit(TAKEN_OFF))
        .when((pl.col("climber") == "yes") & pl.col("climber_mm").is_null())
        .then(pl.lit(NOT_KNOWN))
    )


def _random_error(stems: pl.DataFrame, settings: StemsSection) -> list[pl.Expr]:
    """Return by how much random error exceeds the squared diameter on average, never all of it, and its variance."""
    if not stems.select((pl.col("error_cm") > 0).any()).item():
        return [pl.lit(0.0).alias(name) for name in ("excess_cm2", "dbh_variance_cm2")]
    readings = reading_columns(stems)
    by_caliper = pl.col("measured_by") == CALIPER
    number = pl.sum_horizontal(pl.col(name).is_not_null() for name in readings)
    of_one = (pl.col("error_cm") * pl.col("gain") * pl.col("basis_slope")).pow(2)
    of_girth = of_one * _per_girth().pow(2)
    fits = (pl.col("checked_kind") == pl.col("measured_by")) & (pl.col("error_cm") > 0)
    excess = pl.when(by_caliper).then(of_one * error_share(readings, settings.section)).otherwise(of_girth)
    variance = pl.when(by_caliper).then(of_one / number).otherwise(of_girth)
    return [
        pl.when(fits).then(made).fill_null(0.0).alias(name)
        for made, name in (
            (pl.min_horizontal(excess, pl.col("dbh_cm").pow(2)), "excess_cm2"),
            (variance, "dbh_variance_cm2"),
        )
    ]


def _per_girth() -> pl.Expr:
    """Return the change of a stem's diameter with its girth: 1 / π, and more with a climber inside the belt.

    The reciprocal of the slope of `plotmap.stems.girth.belt_cm` over the diameter, (π + 2α + 2 cos α) / 2.
    """
    stem = pl.col("girth_diameter_cm")
    climber = pl.col("climber_mm").fill_null(0.0).clip(lower_bound=0.0) / _MM_PER_CM
    angle = ((stem - climber) / (stem + climber)).arcsin()
    return 2 / (math.pi + 2 * angle + 2 * angle.cos())


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
            "species {}: neither bark_mm nor a bark_factor of the species (0.5 to 1) is given; to bring "
            "a diameter over or under bark to the other basis needs one of them (stems: {})",
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
