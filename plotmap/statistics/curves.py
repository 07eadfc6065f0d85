"""Least-squares fits of two rising curves with a floor, y = floor + f(x), and the better of the two."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats

MIN_PAIRS = 3
"""Fewer pairs than parameters and one more give no standard errors."""
_N_PARAMETERS = 2
_PRECISION = 1e-13
"""Residuals below this share of the largest y are round-off: the points lie on the curve."""


class CurveForm(StrEnum):
    """Published forms of a curve that rises from the floor at x = 0 and levels off."""

    NASLUND = "naslund"
    MICHAILOW = "michailow"


@dataclass(frozen=True, slots=True)
class CurveFit:
    """One fitted curve.

    Attributes
    ----------
    form : CurveForm
        ``NASLUND``: floor + x² / (a + b x)² (Näslund 1937, Meddelanden från Statens Skogsförsöksanstalt 29).
        ``MICHAILOW``: floor + a exp(-b / x) (Michailow 1943, Forstwissenschaftliches Centralblatt und
        Tharandter Forstliches Jahrbuch; both citations from memory).
    floor : float
        In the unit of y.
    a, b : float
        Parameters, both above zero. NASLUND: a in x / √y, b in 1 / √y. MICHAILOW: a in y, b in x.
    a_se, b_se : float
        Standard errors by the linear approximation, from s² (JᵀJ)⁻¹ (any textbook on regression).
    residual_sd : float
        s, in the unit of y: sqrt(Σ residual² / (n - 2)).
    aic : float
        Akaike's criterion with the full likelihood and three parameters (a, b, s):
        n (ln 2π + 1 + ln(Σ residual² / n)) + 6. NaN where all points lie on the curve.
    n : int
        Pairs.
    x_low, x_high : float
        Range of x that the curve was fitted on.
    """

    form: CurveForm
    floor: float
    a: float
    b: float
    a_se: float
    b_se: float
    residual_sd: float
    aic: float
    n: int
    x_low: float
    x_high: float

    def at(self, x: npt.ArrayLike) -> Floats:
        """Return y at x.

        Parameters
        ----------
        x : array_like of float
            Above zero; NaN gives NaN. Values outside `x_low` to `x_high` are answered too: the caller has to
            say so.
        """
        rise, _ = _curve(self.form, np.array([self.a, self.b]), np.asarray(x, dtype=float))
        return self.floor + rise


def fit_curves(x: npt.ArrayLike, y: npt.ArrayLike, floor: float) -> dict[CurveForm, CurveFit]:
    """Fit both forms by least squares of y, each starting from its straightened form.

    Solved by Levenberg and Marquardt's method (scipy's ``least_squares``) with exact derivatives.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Pairs; x above zero, y above `floor`. At least `MIN_PAIRS`.
    floor : float
        Value of the curve at x = 0.

    Returns
    -------
    dict of CurveForm to CurveFit
        A form is not there where the fit does not converge, where x does not vary, or where the best curve of
        the form does not rise (a or b not above zero).

    Raises
    ------
    ValueError
        Lengths differ, there are fewer than `MIN_PAIRS` pairs, or a pair is NaN, infinite or not above zero
        and floor.
    """
    across, up = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if across.ndim != 1 or across.shape != up.shape:
        raise ValueError(f"x and y must be of one length, but have the shapes {across.shape} and {up.shape}")
    if len(across) < MIN_PAIRS:
        raise ValueError(f"there are {len(across)} pairs, but a curve needs at least {MIN_PAIRS}")
    if not (np.isfinite(across).all() and np.isfinite(up).all()):
        raise ValueError("x and y must be finite: leave pairs out where one is missing")
    if not ((across > 0).all() and (up > floor).all()):
        raise ValueError(f"x must be above zero and y above the floor, {floor:g}")
    fits = ((form, _fit(form, across, up - floor, floor)) for form in CurveForm)
    return {form: fit for form, fit in fits if fit is not None}


def better_curve(fits: dict[CurveForm, CurveFit]) -> CurveFit | None:
    """Return the fit of smallest AIC; None where there is none.

    Both forms have as many parameters, so that this is the one of smaller residuals.
    """
    return min(fits.values(), key=lambda fit: (fit.residual_sd, fit.form), default=None)


def _curve(form: CurveForm, parameters: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Return the rise above the floor and its derivatives by a and b, shape (n, 2)."""
    a, b = parameters
    if form is CurveForm.NASLUND:
        below = a + b * x
        rise = (x / below) ** 2
        return rise, np.stack([-2 * rise / below, -2 * rise * x / below], axis=-1)
    share = np.exp(-b / x)
    return a * share, np.stack([share, -a * share / x], axis=-1)


def _start(form: CurveForm, x: Floats, rise: Floats) -> Floats:
    """Return the parameters of the straight line that the form becomes, by least squares."""
    if form is CurveForm.NASLUND:
        slope, level = np.polyfit(x, x / np.sqrt(rise), 1)
        return np.array([level, slope])
    slope, level = np.polyfit(1 / x, np.log(rise), 1)
    return np.array([math.exp(level), -slope])


def _fit(form: CurveForm, x: Floats, rise: Floats, floor: float) -> CurveFit | None:
    """Return the fit of one form; None where there is none."""
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import

    n = len(x)

    def residuals(parameters: Floats) -> Floats:
        """Return what the curve is off by."""
        return _curve(form, parameters, x)[0] - rise

    def slopes(parameters: Floats) -> Floats:
        """Return the derivatives of the residuals."""
        return _curve(form, parameters, x)[1]

    if np.ptp(x) <= _PRECISION * x.max():
        return None
    with np.errstate(all="ignore"):  # steps of the search may overflow; what it ends with is looked at
        found = least_squares(
            residuals,
            _start(form, x, rise),
            jac=slopes,
            method="lm",
            x_scale="jac",
            xtol=1e-15,
            ftol=1e-15,
            gtol=1e-15,
        )
        parameters = np.asarray(found.x, dtype=float)
        at, jacobian = _curve(form, parameters, x)
    usable = np.isfinite(at).all() and np.isfinite(jacobian).all() and (parameters > 0).all()
    if not (found.success and usable and np.linalg.matrix_rank(jacobian / np.abs(jacobian).max(axis=0)) > 1):
        return None
    squares = float(((at - rise) ** 2).sum())
    exact = squares <= n * (_PRECISION * rise.max()) ** 2
    spread = squares / (n - _N_PARAMETERS)
    errors = np.sqrt(spread * np.diag(np.linalg.inv(jacobian.T @ jacobian)))
    aic = math.nan if exact else n * (math.log(2 * math.pi) + 1 + math.log(squares / n)) + 6
    a, b, a_se, b_se = (float(value) for value in (*parameters, *errors))
    sd = math.sqrt(spread)
    return CurveFit(form, floor, a, b, a_se, b_se, sd, aic, n, float(x.min()), float(x.max()))
