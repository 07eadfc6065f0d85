"""Heights, density and volume against published figures.

The black cherries are 31 felled trees of tests/data (Ryan, Joiner & Ryan 1976, The Minitab Student Handbook).
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pytest

from plotmap.plots import compute_plots
from plotmap.stand import estimate_stand
from plotmap.statistics import CurveForm, better_curve, fit_curves
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

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


def test_mean_height_basal_area_and_mean_diameter_of_the_black_cherries() -> None:
    """R, datasets::trees: G 2.906752789 m², dg 34.55240339 cm, Lorey's height 23.62370371 m on a plot of 1 ha."""
    dbh_cm, height_m = cherries()
    survey = survey_example(
        trees={"plot": ["P1"] * 31, "d1_cm": list(dbh_cm), "height_m": list(height_m)},
        settings={"plots": {"design": "circle", "area_m2": 10_000.0}},
    )
    found = estimate_stand(survey, compute_plots(survey, measure_stems(survey)))
    stand = found.compartments.iloc[0]
    assert stand["basal_area_m2_per_ha"] == pytest.approx(2.906752789, abs=5e-10)
    assert stand["dg_cm"] == pytest.approx(34.55240339, abs=5e-9)
    row = found.stand_density.row(by_predicate=pl.col("scope") == "survey", named=True)
    assert row["lorey_height_m"] == pytest.approx(23.62370371, abs=5e-9)
    assert row["lorey_height_m"] != pytest.approx(height_m.mean(), abs=0.4)  # what a plain mean would be


def test_volume_of_the_black_cherries_by_a_line_of_d2h() -> None:
    """A least-squares line with its intercept gives the sum of the 31 volumes: 935.3 ft³ (Ryan et al. 1976)."""
    dbh_cm, height_m = cherries()
    with _DATA.open(encoding="utf-8") as file:
        volume_m3 = np.array([float(row["volume_ft3"]) for row in csv.DictReader(file)]) * 0.3048**3
    slope, level = np.polyfit(dbh_cm**2 * height_m, volume_m3, 1)
    equation = {
        "species": "*",
        "kind": "d2h",
        "a": float(level),
        "b": float(slope),
        "min_dbh_cm": 21,
        "max_dbh_cm": 53,
        "min_height_m": 19,
        "max_height_m": 27,
        "bark": "over",
        "volume_bark": "over",
        "source": "line through the 31 trees themselves",
    }
    survey = survey_example(
        trees={"plot": ["P1"] * 31, "d1_cm": list(dbh_cm), "height_m": list(height_m)},
        settings={
            "plots": {"design": "circle", "area_m2": 10_000.0},
            "volume": {"equations": [equation]},
        },
    )
    found = estimate_stand(survey, compute_plots(survey, measure_stems(survey))).volumes.volumes
    row = found.row(
        by_predicate=pl.col("scope").eq("survey") & pl.col("species").eq("all species"), named=True
    )
    assert row["volume_m3_per_ha"] == pytest.approx(935.3 * 0.3048**3, rel=1e-9)
    assert row["n_outside_range"] == 0


@pytest.mark.parametrize(
    ("stems_per_ha", "dg_cm", "reference_cm", "index", "tolerance"),
    [
        (200, 12.3 * 2.54, 25.4, 278.8, 0.1),  # per acre on both sides: the index has the unit of the number
        (494.1, 31.0, 25.4, 680.287, 0.01),  # printed as 680.2, cut off
    ],
)
def test_reinekes_index_as_larsen_works_it(
    stems_per_ha: float, dg_cm: float, reference_cm: float, index: float, tolerance: float
) -> None:
    """Reineke 1933, as worked in Larsen's Forest Biometrics notes: 200/ac of 12.3 in; 494.1/ha of 31 cm."""
    area_m2 = 10_000 / stems_per_ha
    survey = survey_example(
        trees={"plot": ["P1"], "d1_cm": [dg_cm]},
        settings={
            "plots": {"design": "circle", "area_m2": area_m2},
            "density": {"reineke_dbh_cm": reference_cm},
        },
    )
    found = estimate_stand(survey, compute_plots(survey, measure_stems(survey))).stand_density
    row = found.row(by_predicate=pl.col("scope") == "survey", named=True)
    assert row["reineke_index"] == pytest.approx(index, abs=tolerance)
    assert row["reineke_sum"] == pytest.approx(index, abs=tolerance)


def test_curtis_density_of_seven_trees_counted_with_a_factor_of_forty() -> None:
    """Curtis 1982, stewardship glossary: 7 trees, 40 ft²/ac, 14.5 in: 280 ft²/ac and 73.5 in feet and inches."""
    ft2_per_ac = 0.3048**2 / 0.40468564224  # m²/ha; an acre is 4046.8564224 m²
    survey = survey_example(
        trees={"plot": ["P1"] * 7, "d1_cm": [14.5 * 2.54] * 7},
        settings={"plots": {"design": "angle-count", "baf_m2_per_ha": 40 * ft2_per_ac}},
    )
    found = estimate_stand(survey, compute_plots(survey, measure_stems(survey)))
    row = found.stand_density.row(by_predicate=pl.col("scope") == "survey", named=True)
    assert found.survey_total["basal_area_m2_per_ha"][0] / ft2_per_ac == pytest.approx(280, rel=1e-9)
    assert row["curtis_density"] / ft2_per_ac * 2.54**0.5 == pytest.approx(73.5, abs=0.05)
