"""The instrument log: what every check said, and what was corrected by it."""

from __future__ import annotations

import polars as pl

from plotmap.model.columns import Kind
from plotmap.model.result_tables import INSTRUMENT_LOG_RESULTS
from plotmap.stems.instrument_checks import MM_PER_CM
from plotmap.units import M2_PER_CM2

_DECIMALS = 9
_TYPES: dict[Kind, type[pl.DataType]] = {Kind.NUMBER: pl.Float64, Kind.COUNT: pl.Int64, Kind.DATE: pl.Date}


def instrument_log(checks: pl.DataFrame, counted: pl.DataFrame) -> pl.DataFrame:
    """Return one row an instrument and day of checks.

    Parameters
    ----------
    checks : polars.DataFrame
        As `plotmap.stems.instrument_checks.read_checks` gives them.
    counted : polars.DataFrame
        Stems that count; reads ``check_row``, ``checked_kind``, ``measured_by``, ``times`` and ``excess_cm2``.

    Returns
    -------
    polars.DataFrame
        Columns of `INSTRUMENT_LOG_RESULTS`, in the order of instrument and day.
    """
    used = (
        counted.lazy()
        .filter(pl.col("check_row").is_not_null() & (pl.col("checked_kind") == pl.col("measured_by")))
        .group_by("check_row", maintain_order=True)
        .agg(
            pl.len().cast(pl.Int64).alias("n_stems"),
            ((pl.col("times") * pl.col("excess_cm2")).sum() * M2_PER_CM2).alias("basal_area_taken_off_m2"),
        )
        .collect()
    )
    made = checks.join(
        used, left_on="source_row", right_on="check_row", how="left", maintain_order="left"
    ).with_columns(
        (pl.col("zero_cm") * MM_PER_CM).round(_DECIMALS).alias("zero_mm"),
        (pl.col("error_cm") * MM_PER_CM).round(_DECIMALS).alias("random_error_mm"),
        pl.col("n_stems").fill_null(0),
        pl.col("basal_area_taken_off_m2").fill_null(0.0),
    )
    schema = {column.name: _TYPES.get(column.kind, pl.String) for column in INSTRUMENT_LOG_RESULTS.columns}
    return made.select(pl.col(name).cast(kind) for name, kind in schema.items())
