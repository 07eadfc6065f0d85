"""Weibull and q ratio against published figures and the longleaf pines; sources in each test."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest

from plotmap.model.class_rule import ClassRule
from plotmap.model.plot_table import CELL_SCHEMA
from plotmap.model.result_tables_structure import TWO_PEAKED
from plotmap.plots import compute_plots
from plotmap.stand import estimate_stand
from plotmap.stand.class_shapes import scope_classes
from plotmap.stand.q_ratio import q_ratios
from plotmap.stand.scopes import Scopes
from plotmap.statistics import dip_of_classes, fit_weibull, sizes_of
from plotmap.stems import measure_stems
from tests.longleaf_survey import longleaf_trees
from tests.survey_example import survey_example

Q_STEMS = [239.24, 184.03, 141.56, 108.90, 83.77, 64.44, 49.57, 38.13, 29.33, 22.56, 17.35, 13.35]
"""Cancino & Gadow 2002 after Kerr 2001: stems per ha, classes 4 cm wide, middles 5 to 49 cm, q 1.3, 30 m²/ha."""


def test_the_longleaf_pines_have_the_published_weibull() -> None:
    """Longleaf pines: shape 1.35765, scale 29.1578, log-likelihood -2470.97208, computed in R and in numpy."""
    dbh_cm = longleaf_trees()["dbh_cm"].to_numpy()
    fit = fit_weibull(sizes_of(dbh_cm, dbh_cm))
    assert fit.shape[0] == pytest.approx(1.35765, abs=5e-6)
    assert fit.scale[0] == pytest.approx(29.1578, abs=1e-4)
    assert fit.log_likelihood[0] == pytest.approx(-2470.97208, abs=5e-6)


def test_the_whole_way_gives_the_longleaf_pines_the_same_weibull_and_two_peaks() -> None:
    """Longleaf pines: as above; the Python package diptest gives the exact sizes a dip of 0.0317, p 0.0003.

    Between classes the distribution is taken for even, which makes the dip smaller, never larger.
    """
    dbh_cm = longleaf_trees()["dbh_cm"].to_list()
    survey = survey_example(
        trees={"plot": ["P1"] * len(dbh_cm), "d1_cm": dbh_cm},
        plots={"plot": ["P1"], "compartment": ["A"]},
        settings={"plots": {"design": "full"}, "classes": {"width_cm": 2}},
    )
    found = estimate_stand(survey, compute_plots(survey, measure_stems(survey))).structure
    row = found.row(by_predicate=(pl.col("scope") == "compartment") & (pl.col("name") == "A"), named=True)
    assert row["weibull_shape"] == pytest.approx(1.35765, abs=5e-6)
    assert row["weibull_log_likelihood"] == pytest.approx(-2470.97208, abs=5e-5)
    assert row["se_from"] == "stems"
    assert 0.02 < row["dip"] <= 0.0317
    assert row["dip_p"] < 0.05
    assert row["form"] == TWO_PEAKED


def test_the_dip_of_the_longleaf_pines_nears_that_of_single_sizes_as_classes_get_narrow() -> None:
    """The Python package diptest gives 0.03165720 for the 584 diameters; measured to 0.1 cm."""
    dbh_cm = longleaf_trees()["dbh_cm"].to_numpy()
    edges = np.arange(-0.5, 800.5) / 10
    assert dip_of_classes(edges, np.histogram(dbh_cm, edges)[0] / len(dbh_cm)) == pytest.approx(
        0.03166, abs=2e-3
    )


def test_the_q_of_the_published_table_comes_back_from_its_stems() -> None:
    """Cancino & Gadow 2002, Kerr 2001: q 1.3; 13.35 stems in class 49 are 30 m²/ha over k3 = 2.247."""
    n = len(Q_STEMS)
    cells = pl.DataFrame(
        {
            "plot": ["P"] * n, "compartment": ["A"] * n, "species": ["oak"] * n, "class_index": list(range(n)),
            "n_trees": Q_STEMS, "stems": Q_STEMS, "basal_area_m2": [1.0] * n, "dbh_sum_cm": [1.0] * n,
        },
        schema=CELL_SCHEMA,
    )  # fmt: skip
    one = {"sample": [0], "compartment": ["A"], "factor": [1.0], "block": [0]}
    scopes = Scopes(pl.DataFrame({"sample": [0]}), pl.DataFrame(one), pl.DataFrame(), np.zeros(1))
    rule = ClassRule(width_cm=None, edges_cm=tuple(float(edge) for edge in range(3, 55, 4)))
    classes = scope_classes(cells, scopes, np.array([False]), rule)
    found = q_ratios(classes, rule)
    assert found.q[0] ** (4 / found.width_cm) == pytest.approx(1.3, abs=1e-4)
    assert (found.low_cm[0], found.high_cm[0], found.n[0]) == (3, 51, 12)
    assert found.r2[0] == pytest.approx(1.0, abs=1e-6)
    k3 = sum(math.pi / 40_000 * d**2 * 1.3 ** ((49 - d) / 4) for d in range(5, 50, 4))
    assert k3 == pytest.approx(2.247, abs=5e-4)
    assert 30 / k3 == pytest.approx(Q_STEMS[-1], abs=5e-3)
