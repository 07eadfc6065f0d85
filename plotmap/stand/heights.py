"""Height curves, and a height for every stem: measured, or from a curve and marked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.field_tables import DEAD
from plotmap.model.result_tables_heights import (
    ALL_SPECIES,
    FITTED,
    HEIGHT_CURVE_RESULTS,
    NO_RISE,
    TOO_FEW_HEIGHTS,
)
from plotmap.model.settings import Settings
from plotmap.statistics import CurveFit, CurveForm, better_curve, fit_curves

_Bools = npt.NDArray[np.bool_]
_ROUND_OFF_CM = 1e-6
MEASURED, CURVE = "measured", "curve"
"""Words of ``height_by``."""


@dataclass(frozen=True, slots=True)
class StemHeights:
    """Heights of the stems of a survey.

    Attributes
    ----------
    stems : polars.DataFrame
        Columns of `plotmap.model.plot_table.STANDING_SCHEMA`, in the same order, and ``live`` (condition is not
        dead), ``height_used_m`` (m; missing where there is neither height nor curve), ``height_by`` (measured,
        curve or missing) and ``height_outside`` (from a curve, at a diameter outside its range).
    curves : polars.DataFrame
        Columns of `HEIGHT_CURVE_RESULTS`; without rows where no height was measured.
    """

    stems: pl.DataFrame
    curves: pl.DataFrame

    @property
    def any_measured(self) -> bool:
        """Whether the survey has heights at all."""
        return self.curves.height > 0


@dataclass(frozen=True, slots=True)
class _Fitted:
    """What was fitted for one species, or for all."""

    pairs: int
    low_cm: float | None
    high_cm: float | None
    fits: dict[CurveForm, CurveFit]
    curve: CurveFit | None
    status: str


def stem_heights(standing: pl.DataFrame, settings: Settings) -> StemHeights:
    """Fit the height curves and give every stem a height.

    A curve is fitted to the live stems of a species (as reported) that have a height above breast height,
    where there are ``[heights] min_pairs`` of them: both forms of `plotmap.statistics.curves`, and the one of
    smaller AIC is taken. Other species take the curve of all species together. A stem with a height keeps it;
    the others get that of the curve at their diameter (a tallied part at its mean diameter).

    Parameters
    ----------
    standing : polars.DataFrame
        Columns of `plotmap.model.plot_table.STANDING_SCHEMA`.
    settings : Settings
        Breast height and the fewest pairs.

    Returns
    -------
    StemHeights
        Stems with heights, and the table of curves.
    """
    floor, fewest = settings.stems.breast_height_m, settings.heights.min_pairs
    usable = pl.col("height_m") > floor
    stems = standing.with_columns(
        (pl.col("condition").is_null() | (pl.col("condition") != DEAD)).alias("live"),
        pl.when(usable).then("height_m").alias("height_used_m"),
        pl.when(usable).then(pl.lit(MEASURED)).alias("height_by"),
    )
    pairs = stems.filter(pl.col("live") & pl.col("height_used_m").is_not_null() & (pl.col("dbh_cm") > 0))
    if not pairs.height:
        bare = stems.with_columns(pl.lit(value=False).alias("height_outside"))
        schema = dict.fromkeys(HEIGHT_CURVE_RESULTS.names, pl.String)
        return StemHeights(bare, pl.DataFrame(schema=schema))
    names = sorted(stems["species"].unique().to_list())
    fitted = {name: _fit(pairs.filter(pl.col("species") == name), floor, fewest) for name in names}
    of_all = _fit(pairs, floor, fewest)
    filled, taken = _from_curves(stems, fitted, of_all)
    rows = [_row(name, fit, taken.get(name, (0.0, 0.0))) for name, fit in fitted.items()]
    rows.append(_row(ALL_SPECIES, of_all, taken.get(ALL_SPECIES, (0.0, 0.0))))
    return StemHeights(
        filled, pl.DataFrame(rows, infer_schema_length=None).select(HEIGHT_CURVE_RESULTS.names)
    )


def _fit(pairs: pl.DataFrame, floor: float, fewest: int) -> _Fitted:
    """Fit both forms to pairs of diameter and height."""
    d, h = pairs["dbh_cm"].to_numpy(), pairs["height_used_m"].to_numpy()
    low, high = (float(d.min()), float(d.max())) if len(d) else (None, None)
    if len(d) < fewest:
        return _Fitted(len(d), low, high, {}, None, TOO_FEW_HEIGHTS)
    order = np.lexsort((h, d))  # the same to the last bit whatever the order of the rows
    fits = fit_curves(d[order], h[order], floor)
    curve = better_curve(fits)
    return _Fitted(len(d), low, high, fits, curve, NO_RISE if curve is None else FITTED)


def _from_curves(
    stems: pl.DataFrame, fitted: dict[str, _Fitted], of_all: _Fitted
) -> tuple[pl.DataFrame, dict[str, tuple[float, float]]]:
    """Fill heights in from the curves; return the stems counted, and those outside the range, by curve."""
    d, height = stems["dbh_cm"].to_numpy(), stems["height_used_m"].to_numpy().copy()
    count = stems["n_trees"].to_numpy()
    missing: _Bools = np.isnan(height)
    outside: _Bools = np.zeros(len(d), dtype=bool)
    owns = [name for name, fit in fitted.items() if fit.curve is not None]
    own = stems["species"].is_in(owns).to_numpy()
    groups = {name: missing & (stems["species"] == name).to_numpy() for name in owns}
    groups[ALL_SPECIES] = missing & ~own
    taken: dict[str, tuple[float, float]] = {}
    for name, rows in groups.items():
        curve = (of_all if name == ALL_SPECIES else fitted[name]).curve
        if curve is None:
            continue
        height[rows] = curve.at(d[rows])
        beyond = (d < curve.x_low - _ROUND_OFF_CM) | (d > curve.x_high + _ROUND_OFF_CM)
        outside |= rows & beyond
        taken[name] = (float(count[rows].sum()), float(count[rows & beyond].sum()))
    by = pl.when(pl.Series(missing & np.isfinite(height))).then(pl.lit(CURVE)).otherwise("height_by")
    filled = stems.with_columns(
        pl.Series("height_used_m", height).fill_nan(None),
        by.alias("height_by"),
        pl.Series("height_outside", outside),
    )
    return filled, taken


def _row(name: str, fitted: _Fitted, taken: tuple[float, float]) -> dict[str, object]:
    """Return one row of the table of curves."""
    curve = fitted.curve
    row: dict[str, object] = {
        "species": name,
        "n_pairs": fitted.pairs,
        "dbh_low_cm": fitted.low_cm,
        "dbh_high_cm": fitted.high_cm,
        "form": curve.form.value if curve else None,
        "residual_sd_m": curve.residual_sd if curve else None,
        "n_from_curve": taken[0],
        "n_outside_range": taken[1],
        "status": fitted.status,
    }
    row |= {key: getattr(curve, key) if curve else None for key in ("a", "a_se", "b", "b_se")}
    aic = {f"aic_{form}": fitted.fits[form].aic if form in fitted.fits else None for form in CurveForm}
    return row | aic
