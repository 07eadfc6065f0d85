"""Bark: readings over and under it, brought to the one basis of the settings."""

from __future__ import annotations

from typing import Literal

import polars as pl

from plotmap.model.field_tables import OVER, UNDER

MEASURED_SO, BY_THICKNESS, BY_FACTOR = "measured so", "bark_mm", "bark_factor"
"""Words of ``bark_by``: how a stem came to the basis of the settings."""
_MM_PER_CM = 10.0


def with_basis(stems: pl.DataFrame, species: pl.DataFrame, basis: Literal["over", "under"]) -> pl.DataFrame:
    """Add the diameter on the basis of the settings.

    A reading over bark becomes one under bark by twice the single thickness, else by the species' factor (under /
    over); a reading under bark becomes one over bark the other way round.

    Parameters
    ----------
    stems : polars.DataFrame
        Reads ``outside_cm`` (diameter as read, in cm), ``bark`` (over or under; over where missing), ``bark_mm`` and
        ``species``.
    species : polars.DataFrame
        Reads ``species`` and ``bark_factor``; of a species that comes twice, the first row.
    basis : str
        What the results are.

    Returns
    -------
    polars.DataFrame
        With ``dbh_cm`` (missing where not positive or the bark not known), ``bark_by`` (missing where it is not
        known), ``basis_slope``, the change of ``dbh_cm`` with that of ``outside_cm``, and ``over_bark_cm``, the
        diameter over bark on any basis (missing where a reading under bark has no known bark).
    """
    read_over = pl.col("bark").fill_null(OVER) == OVER
    outside = pl.col("outside_cm")
    if basis == OVER and stems.select(read_over.all()).item():
        return stems.with_columns(
            outside.alias("dbh_cm"),
            pl.lit(MEASURED_SO).alias("bark_by"),
            pl.lit(1.0).alias("basis_slope"),
            outside.alias("over_bark_cm"),
        )
    factors = species.select("species", pl.col("bark_factor").cast(pl.Float64).fill_nan(None)).unique(
        "species", keep="first", maintain_order=True
    )
    factor = (
        stems.select("species")
        .join(factors, on="species", how="left", maintain_order="left")
        .select(pl.when(pl.col("bark_factor") > 0).then("bark_factor"))
        .to_series()
        .alias("to_basis")
    )
    to_basis = pl.col("to_basis") if basis == UNDER else 1 / pl.col("to_basis")
    so = read_over if basis == OVER else ~read_over
    twice = 2 * pl.col("bark_mm") / _MM_PER_CM
    over = (
        pl.when(read_over).then(outside).otherwise(pl.coalesce(outside + twice, outside / pl.col("to_basis")))
    )
    by_factor = ~so & pl.col("bark_mm").is_null()
    other = pl.coalesce(outside + twice * (-1 if basis == UNDER else 1), outside * to_basis)
    made = pl.when(so).then(outside).otherwise(other)
    return (
        stems.with_columns(factor)
        .with_columns(
            pl.when(made > 0).then(made).alias("dbh_cm"),
            pl.when(over > 0).then(over).alias("over_bark_cm"),
            pl.when(so)
            .then(pl.lit(MEASURED_SO))
            .when(pl.col("bark_mm").is_not_null())
            .then(pl.lit(BY_THICKNESS))
            .when(pl.col("to_basis").is_not_null())
            .then(pl.lit(BY_FACTOR))
            .alias("bark_by"),
            pl.when(by_factor).then(to_basis).otherwise(1.0).alias("basis_slope"),
        )
        .drop("to_basis")
    )
