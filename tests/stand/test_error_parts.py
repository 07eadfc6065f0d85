"""The parts of the error, against simulated readings and against formulas worked by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import polars as pl
import pytest

from plotmap.statistics import plots_needed
from plotmap.workflow import compile_survey
from tests.survey_example import survey_example

_K = math.pi / 40_000
_PER_HA = 20.0
"""Stems per hectare that a stem on 500 m² stands for."""
_BARS = [300.0, 301.0, 299.0, 302.0, 298.0]
_S_CM = float(np.std(_BARS, ddof=1)) / 10


def _parts(dbh: list[list[float]], *, known: bool = True, **more: Any) -> dict[str, Any]:
    """Return the row of compartment A for plots with stems of these diameters, all by one caliper."""
    plots = [f"P{i}" for i in range(len(dbh))]
    stems = [(plot, d) for plot, row in zip(plots, dbh, strict=True) for d in row]
    bars = _BARS if known else [300.0]
    survey = survey_example(
        settings={"plots": {"design": "circle", "area_m2": 500.0}, **more.pop("settings", {})},
        trees={
            "plot": [plot for plot, _ in stems],
            "d1_cm": [d for _, d in stems],
            "instrument": ["K"] * len(stems),
            **more.pop("trees", {}),
        },
        plots={"plot": plots, "compartment": ["A"] * len(plots)},
        instruments={
            "instrument": ["K"] * len(bars),
            "kind": ["caliper"] * len(bars),
            "date": ["2026-05-10"] * len(bars),
            "zero_mm": [0.0] * len(bars),
            "bar_mm": [300.0] * len(bars),
            "bar_reading_mm": bars,
        },
        **more,
    )
    table = compile_survey(survey).error_parts
    return table.filter(pl.col("scope") == "compartment", pl.col("name") == "A").row(0, named=True)


_SE = "basal_area_m2_per_ha_se"
_DBH = [[20.0, 30.0], [25.0], [40.0, 22.0, 31.0]]
_COUNTS_FOR = np.array([_PER_HA / 3 * 2 * _K * d for row in _DBH for d in row])
"""What a centimetre of each stem counts for in the mean of three plots, in m²/ha."""
_SIZES = np.array([d for row in _DBH for d in row])


def test_single_readings_add_what_simulated_errors_add() -> None:
    row = _parts(_DBH)
    assert row[f"{_SE}_readings"] == pytest.approx(_S_CM * np.sqrt((_COUNTS_FOR**2).sum()), rel=1e-9)
    # simulation: readings with that error, the estimate each time
    rng = np.random.default_rng(2)
    drawn = _SIZES + rng.normal(0, _S_CM, (40_000, len(_SIZES)))
    estimates = (drawn**2).sum(axis=1) * _K * _PER_HA / 3
    assert row[f"{_SE}_readings"] == pytest.approx(estimates.std(), rel=0.02)
    assert row["known_pct"] == pytest.approx(100)


def test_what_is_left_between_plots_and_readings_make_the_standard_error() -> None:
    row = _parts(_DBH)
    whole = row[f"{_SE}_between_plots"] ** 2 + row[f"{_SE}_readings"] ** 2
    assert whole == pytest.approx(row[_SE] ** 2, rel=1e-12)


def test_checks_add_what_simulated_zeros_and_bars_add() -> None:
    row = _parts(_DBH)
    at_bar = _SIZES / 30.0
    zero, bar = (_COUNTS_FOR * (1 - at_bar)).sum(), (_COUNTS_FOR * at_bar).sum()
    assert row[f"{_SE}_checks"] == pytest.approx(_S_CM * math.hypot(zero, bar / math.sqrt(5)), rel=1e-9)
    # simulation: a zero and five readings of the bar with that error, all stems corrected by them
    rng = np.random.default_rng(3)
    z = rng.normal(0, _S_CM, 40_000)
    b = 30.0 + rng.normal(0, _S_CM, (40_000, 5)).mean(axis=1)
    corrected = (_SIZES - z[:, None]) * (30.0 / (b - z))[:, None]
    estimates = (corrected**2).sum(axis=1) * _K * _PER_HA / 3
    assert row[f"{_SE}_checks"] == pytest.approx(estimates.std(), rel=0.02)
    everything = row[_SE] ** 2 + row[f"{_SE}_checks"] ** 2
    assert row[f"{_SE}_all"] ** 2 == pytest.approx(everything, rel=1e-12)


def test_two_readings_of_a_stem_halve_the_variance_and_leave_the_checks() -> None:
    once, twice = _parts(_DBH), _parts(_DBH, trees={"d2_cm": _SIZES.tolist()})
    assert twice[f"{_SE}_readings"] == pytest.approx(once[f"{_SE}_readings"] / math.sqrt(2), rel=1e-9)
    assert twice[f"{_SE}_checks"] == pytest.approx(once[f"{_SE}_checks"], rel=1e-9)


def test_an_instrument_whose_error_is_not_known_has_no_part_and_not_zero() -> None:
    row = _parts(_DBH, known=False)
    assert row[f"{_SE}_readings"] is None
    assert row[f"{_SE}_checks"] is None
    assert row["known_pct"] == 0
    assert row[f"{_SE}_between_plots"] == row[_SE]


def test_tallied_stems_add_what_stems_drawn_within_their_class_add() -> None:
    tallies = {
        "plot": ["P0", "P1"],
        "species": ["oak", "oak"],
        "class": ["20–<25", "20–<25"],
        "count": [30, 10],
    }
    row = _parts([[20.0], [25.0], [40.0]], tallies=tallies)
    # a class alone is taken as evenly filled: stems drawn evenly from 20 to 25 cm
    rng = np.random.default_rng(4)
    drawn = rng.uniform(20, 25, (20_000, 40))
    estimates = (drawn**2).sum(axis=1) * _K * _PER_HA / 3
    assert row[f"{_SE}_grouping"] == pytest.approx(estimates.std(), rel=0.05)
    assert _parts(_DBH)[f"{_SE}_grouping"] == 0


def test_plots_needed_come_from_the_spread_between_plots() -> None:
    row = _parts(_DBH, settings={"estimates": {"target_error_pct": 20}})
    values = np.array([sum(_K * d**2 for d in plot) * _PER_HA for plot in _DBH])
    needed = plots_needed(100 * values.std(ddof=1) / values.mean(), 20, 0.95)
    assert row["n_plots_needed"] == needed
    assert row["n_plots_more"] == needed - 3
    assert row["target_error_pct"] == 20


def test_the_largest_part_is_named() -> None:
    assert _parts(_DBH)["helps_most"] == "more plots"
    alike = [[30.0] * 3, [30.1] * 3, [30.0] * 3]
    assert _parts(alike)["helps_most"] == "a better instrument"
    tallies = {"plot": ["P0"], "species": ["oak"], "class": ["60–<65"], "count": [1]}
    mixed = [[10.0], [60.0], [60.0]]
    settings = {"classes": {"edges_cm": [10, 100]}}
    tallies["class"] = ["10–<100"]
    row = _parts(mixed, known=False, tallies=tallies, settings=settings)
    assert row["helps_most"] == (
        "more plots" if row[_SE] > row[f"{_SE}_grouping"] else "measuring what is tallied"
    )
    assert row[f"{_SE}_grouping"] > 0


def test_the_total_is_made_of_compartments_weighted_by_area() -> None:
    names = ["1", "2", "3", "4"]
    dbh = [20.0, 30.0, 25.0, 41.0]
    bars = len(_BARS)
    survey = survey_example(
        settings={"plots": {"design": "circle", "area_m2": 500.0}},
        trees={"plot": names, "d1_cm": dbh, "instrument": ["K"] * 4},
        plots={"plot": names, "compartment": ["A", "A", "B", "B"]},
        instruments={
            "instrument": ["K"] * bars,
            "kind": ["caliper"] * bars,
            "date": ["2026-05-10"] * bars,
            "zero_mm": [0.0] * bars,
            "bar_mm": [300.0] * bars,
            "bar_reading_mm": _BARS,
        },
    )
    stand = compile_survey(survey)
    area = stand.compartments["area_ha"].to_numpy()
    weight = np.repeat(area / area.sum(), 2)
    counts_for = weight * np.array([_PER_HA / 2 * 2 * _K * d for d in dbh])
    at_bar = np.array(dbh) / 30.0
    zero, bar = (counts_for * (1 - at_bar)).sum(), (counts_for * at_bar).sum()
    row = stand.error_parts.filter(pl.col("scope") == "survey").row(0, named=True)
    assert row[f"{_SE}_readings"] == pytest.approx(_S_CM * np.sqrt((counts_for**2).sum()), rel=1e-9)
    # one check for the whole survey: its error does not cancel between compartments
    assert row[f"{_SE}_checks"] == pytest.approx(_S_CM * math.hypot(zero, bar / math.sqrt(bars)), rel=1e-9)
