"""The form of the size distribution of survey, strata and compartments."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import polars as pl

from plotmap.model.class_rule import ClassRule
from plotmap.model.plot_table import COUNT_DECIMALS, PlotValues
from plotmap.model.result_tables import NO_PLOTS
from plotmap.model.result_tables_structure import (
    BELL,
    BY_PLOTS,
    BY_STEMS,
    IRREGULAR,
    NOT_TOLD,
    REVERSE_J,
    STRUCTURE_RESULTS,
    THREE_PARAMETERS,
    TWO_PARAMETERS,
    TWO_PEAKED,
)
from plotmap.stand.class_shapes import (
    ClassTests,
    ScopeClasses,
    class_tests,
    scope_classes,
    without_band_edges,
)
from plotmap.stand.q_ratio import q_ratios
from plotmap.stand.scopes import Scopes
from plotmap.stand.size_fits import LEAST_STEMS, SizeFits, fit_sizes
from plotmap.statistics import WeibullFit, anderson_darling

TOO_FEW_STEMS = f"fewer than {LEAST_STEMS} stems"
_LEVEL = 0.05
_NORMAL_95 = 1.959963984540054
_STEP = 1e-6
_Floats = npt.NDArray[np.float64]
_Words = npt.NDArray[np.str_]


def describe_structure(values: PlotValues, scopes: Scopes, rule: ClassRule) -> pl.DataFrame:
    """Fit and test the size distribution of every scope.

    Parameters
    ----------
    values : PlotValues
        Reads ``sizes`` and ``cells``.
    scopes : Scopes
        Survey, strata and compartments.
    rule : ClassRule
        Classes that fit and peaks are tested on.

    Returns
    -------
    polars.DataFrame
        Columns of `STRUCTURE_RESULTS`, one row a scope. Methods: `plotmap.statistics.fit_weibull`,
        `plotmap.stand.size_fits.fit_sizes`, `plotmap.stand.class_shapes`. The form is two-peaked where the
        dip says so, irregular where the better Weibull does not fit; else reverse-J or bell where the slope
        of its density at the smallest diameter is below or above zero, all at 5 %.
    """
    fits = fit_sizes(values, scopes)
    classes = scope_classes(values.cells, scopes, fits.biased, rule)
    three = _three_better(fits)
    tests = class_tests(without_band_edges(classes, values.sizes, scopes), scopes, fits, three)
    fitted = ~np.isnan(fits.two.shape)
    darling, darling_p = _anderson_darling(fits)
    columns: dict[str, npt.NDArray[np.generic]] = {
        "smallest_cm": np.where(fitted, fits.smallest_cm, np.nan),
        **_parameters("weibull", fits.two, fits.two_covariance),
        **_parameters("weibull3", fits.three, fits.three_covariance),
        "weibull_better": np.where(three, THREE_PARAMETERS, TWO_PARAMETERS),
        "se_from": np.where(fits.by_plots, BY_PLOTS, BY_STEMS),
        "chi_square": tests.chi_square,
        "chi_square_df": tests.df,
        "chi_square_p": tests.p,
        "design_effect": np.where(fitted, tests.effect, np.nan),
        "anderson_darling": darling,
        "anderson_darling_p": darling_p,
        "dip": tests.dip,
        "dip_p": tests.dip_p,
        **_q_columns(classes, rule),
        "form": _form(fits, tests, three),
    }
    table = scopes.table.with_columns(
        pl.Series("n_trees", classes.count.sum(axis=1)).round(COUNT_DECIMALS),
        *(pl.Series(name, column).fill_nan(None) if column.dtype == np.float64 else pl.Series(name, column)
          for name, column in columns.items()),
    )  # fmt: skip
    words = ["weibull_better", "se_from", "form"]
    return table.with_columns(
        pl.when(pl.Series(fitted)).then(pl.col(*words)),
        pl.Series("why_missing", _why(scopes, fits), dtype=pl.String),
    ).select(STRUCTURE_RESULTS.names)


def _three_better(fits: SizeFits) -> npt.NDArray[np.bool_]:
    """Say where a third parameter raises the log-likelihood by more than 1 (Akaike 1974)."""
    with np.errstate(invalid="ignore"):
        return fits.three.log_likelihood - fits.two.log_likelihood > 1.0


def _parameters(prefix: str, fit: WeibullFit, covariance: _Floats) -> dict[str, _Floats]:
    """Return the columns of a fit."""
    se = np.sqrt(np.diagonal(covariance, axis1=1, axis2=2))
    parts = {"shape": fit.shape, "scale_cm": fit.scale, "location_cm": fit.location}
    made: dict[str, _Floats] = {}
    for place, (name, part) in enumerate(list(parts.items())[: fit.n_parameters]):
        made[f"{prefix}_{name}"] = part
        made[f"{prefix}_{name}_se"] = np.asarray(se[:, place], dtype=np.float64)
    return {**made, f"{prefix}_log_likelihood": fit.log_likelihood}


def _anderson_darling(fits: SizeFits) -> tuple[_Floats, _Floats]:
    """Return Anderson and Darling's figure where all stems were measured, count alike and none was cut off."""
    statistic, p = anderson_darling(fits.sizes.of(fits.plain[fits.sizes.sample]), fits.two)
    return np.where(fits.plain, statistic, np.nan), np.where(fits.plain, p, np.nan)


def _q_columns(classes: ScopeClasses, rule: ClassRule) -> dict[str, _Floats]:
    """Return the columns of the q ratio."""
    ratios = q_ratios(classes, rule)
    return {
        "q": ratios.q,
        "q_se": ratios.se,
        "q_class_width_cm": np.where(np.isnan(ratios.q), np.nan, ratios.width_cm),
        "q_low_cm": ratios.low_cm,
        "q_high_cm": ratios.high_cm,
        "q_classes": ratios.n,
        "q_r2": ratios.r2,
    }


def _form(fits: SizeFits, tests: ClassTests, three: npt.NDArray[np.bool_]) -> _Words:
    """Return the word for the form."""
    of_two = _steepness(fits.two, fits.two_covariance, fits)
    of_three = _steepness(fits.three, fits.three_covariance, fits)
    steepness = np.where(three & ~np.isnan(of_three), of_three, of_two)
    with np.errstate(invalid="ignore"):
        fits_well = tests.p >= _LEVEL
        return np.select(
            [
                tests.dip_p < _LEVEL,
                tests.p < _LEVEL,
                fits_well & (steepness < -_NORMAL_95),
                fits_well & (steepness > _NORMAL_95),
            ],
            [TWO_PEAKED, IRREGULAR, REVERSE_J, BELL],
            NOT_TOLD,
        )


def _steepness(fit: WeibullFit, covariance: _Floats, fits: SizeFits) -> _Floats:
    """Return the slope of ln density at the smallest diameter, over its standard error, by the delta method.

    Its sign is that of (c - 1) - c ((t - a) / s)^c: above zero the density has its peak among the sizes
    counted, below it falls from the first.
    """

    def slope(parts: list[_Floats]) -> _Floats:
        """Return the figure whose sign tells."""
        reach = np.maximum(fits.smallest_cm - parts[2], 0.0) / parts[1]
        return (parts[0] - 1.0) - parts[0] * reach ** parts[0]

    centre = [fit.shape, fit.scale, fit.location]
    gradient = []
    for place in range(fit.n_parameters):
        ends = []
        for sign in (1.0, -1.0):
            moved = [part * (1.0 + sign * _STEP) if i == place else part for i, part in enumerate(centre)]
            ends.append(slope(moved))
        gradient.append((ends[0] - ends[1]) / (2.0 * _STEP * centre[place]))
    g = np.column_stack(gradient)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(
            slope(centre) / np.sqrt(np.einsum("mi,mij,mj->m", g, covariance, g)), dtype=np.float64
        )


def _why(scopes: Scopes, fits: SizeFits) -> list[str | None]:
    """Return for each scope why nothing was fitted, None where something was."""
    without = (scopes.table["n_plots"] == 0).to_list()
    return [
        NO_PLOTS if bare else TOO_FEW_STEMS if n < LEAST_STEMS else (why or None)
        for bare, n, why in zip(without, fits.n, fits.two.why_not, strict=True)
    ]
