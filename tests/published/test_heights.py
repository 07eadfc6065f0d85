"""Heights, density and volume against published figures.

The black cherries are 31 felled trees of tests/data (Ryan, Joiner & Ryan 1976, The Minitab Student Handbook).
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from plotmap.statistics import CurveForm, better_curve, fit_curves

_DATA = Path(__file__).parents[1] / "data" / "black_cherry.csv"


def cherries() -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return diameters in cm and heights in m of the black cherries."""
    with _DATA.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    dbh_cm = np.array([float(row["diameter_in"]) for row in rows]) * 2.54
    return dbh_cm, np.array([float(row["height_ft"]) for row in rows]) * 0.3048


@pytest.mark.parametrize(
    ("form", "a", "b", "residual_sd_m", "aic"),
    [
        ("naslund", (0.7055024, 0.2102637), (0.19193402, 0.006545556), 1.667819220, 123.620805294),
        ("michailow", (26.859523, 1.649226), (6.603148, 1.952146), 1.666457486, 123.570163103),
    ],
)
def test_height_curves_of_the_black_cherries(
    form: str, a: tuple[float, float], b: tuple[float, float], residual_sd_m: float, aic: float
) -> None:
    """R 4.2, nls of h ~ 1.3 + d^2 / (a + b d)^2 and 1.3 + a exp(-b / d), summary and AIC (parameter and error)."""
    fit = fit_curves(*cherries(), 1.3)[CurveForm(form)]
    assert (fit.a, fit.a_se) == pytest.approx(a, rel=1e-6)
    assert (fit.b, fit.b_se) == pytest.approx(b, rel=1e-6)
    assert fit.residual_sd == pytest.approx(residual_sd_m, rel=1e-9)
    assert fit.aic == pytest.approx(aic, rel=1e-9)


def test_the_curve_of_the_black_cherries_is_the_one_of_smaller_aic() -> None:
    """R 4.2, AIC of both nls fits: 123.62 and 123.57."""
    better = better_curve(fit_curves(*cherries(), 1.3))
    assert better is not None
    assert better.form is CurveForm.MICHAILOW
