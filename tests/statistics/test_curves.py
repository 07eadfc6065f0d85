"""Fits of rising curves against scipy's curve_fit, exact points and the forms' own limits."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import curve_fit

from plotmap.statistics import CurveForm, better_curve, fit_curves

_Floats = npt.NDArray[np.float64]
X = np.linspace(8.0, 60.0, 40)


def _naslund(x: _Floats, a: float, b: float) -> _Floats:
    return 1.3 + x**2 / (a + b * x) ** 2


def _michailow(x: _Floats, a: float, b: float) -> _Floats:
    return 1.3 + a * np.exp(-b / x)


FORMS = {CurveForm.NASLUND: (_naslund, (1.4, 0.18)), CurveForm.MICHAILOW: (_michailow, (31.0, 9.0))}


@pytest.mark.parametrize("form", list(CurveForm))
def test_points_on_a_curve_give_its_parameters_back_without_error(form: CurveForm) -> None:
    curve, (a, b) = FORMS[form]
    fit = fit_curves(X, curve(X, a, b), 1.3)[form]
    assert (fit.a, fit.b) == pytest.approx((a, b), rel=1e-9)
    assert fit.residual_sd == pytest.approx(0, abs=1e-9)
    assert math.isnan(fit.aic)
    assert fit.at([20.0, 70.0]) == pytest.approx(curve(np.array([20.0, 70.0]), a, b), rel=1e-9)


@pytest.mark.parametrize("form", list(CurveForm))
def test_the_fit_and_its_errors_are_those_of_curve_fit_of_scipy(form: CurveForm) -> None:
    curve: Callable[..., _Floats]
    curve, start = FORMS[form]
    y = curve(X, *start) + np.random.default_rng(5).normal(0, 1.5, len(X))
    fit = fit_curves(X, y, 1.3)[form]
    found, covariance = curve_fit(curve, X, y, p0=start, ftol=1e-14, xtol=1e-14)
    assert (fit.a, fit.b) == pytest.approx(tuple(found), rel=1e-6)
    assert (fit.a_se, fit.b_se) == pytest.approx(tuple(np.sqrt(np.diag(covariance))), rel=1e-5)
    squares = ((y - curve(X, *found)) ** 2).sum()
    assert fit.residual_sd == pytest.approx(math.sqrt(squares / 38), rel=1e-9)
    # definition: -2 log likelihood of normal errors plus twice three parameters
    sigma2 = squares / 40
    likelihood = -0.5 * 40 * math.log(2 * math.pi * sigma2) - squares / (2 * sigma2)
    assert fit.aic == pytest.approx(-2 * likelihood + 6, rel=1e-9)
    assert (fit.n, fit.x_low, fit.x_high) == (40, 8, 60)


@pytest.mark.parametrize("form", list(CurveForm))
def test_the_better_curve_is_the_one_the_points_were_made_by(form: CurveForm) -> None:
    curve, parameters = FORMS[form]
    y = curve(X, *parameters) + np.random.default_rng(1).normal(0, 0.05, len(X))
    fits = fit_curves(X, y, 1.3)
    better = better_curve(fits)
    assert better is not None
    assert better.form is form
    assert better.aic == min(fit.aic for fit in fits.values())


def test_no_curve_where_y_falls_with_x_or_x_does_not_vary() -> None:
    assert fit_curves(X, 30 - 0.2 * X, 1.3) == {}
    assert fit_curves(np.full(12, 30.0), np.linspace(20, 25, 12), 1.3) == {}
    assert better_curve({}) is None


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ([10.0, 20.0], [12.0, 15.0], "2 pairs, but a curve needs at least 3"),
        ([10.0, 20.0, math.nan], [12.0, 15.0, 16.0], "must be finite"),
        ([10.0, 20.0, 30.0], [12.0, 15.0, 1.3], "above the floor, 1.3"),
        ([0.0, 20.0, 30.0], [12.0, 15.0, 16.0], "x must be above zero"),
        ([10.0, 20.0, 30.0], [12.0, 15.0], "of one length"),
    ],
)
def test_pairs_that_no_curve_can_be_fitted_to_are_refused(x: list[float], y: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        fit_curves(x, y, 1.3)


def test_three_pairs_are_enough_for_a_curve_with_errors() -> None:
    fit = fit_curves([10.0, 20.0, 40.0], [9.0, 16.0, 22.0], 1.3)[CurveForm.NASLUND]
    assert fit.n == 3
    assert 0 < fit.a_se < fit.a
