"""Compartments with one plot or none, by the model, on frames that can be worked by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest

from plotmap.model.settings import Settings
from plotmap.stand.model_based import model_based
from plotmap.statistics import area_model


def _compartments(**more: Any) -> pd.DataFrame:
    """Return five compartments of 0.05 ha plots: three with several, one with one, one with none."""
    n_plots = [4, 3, 5, 1, 0]
    mean = [20.0, 26.0, 31.0, 40.0, np.nan]
    se = [2.0, 3.0, 1.5, np.nan, np.nan]
    return pd.DataFrame(
        {
            "compartment": ["1", "2", "3", "4", "5"],
            "stratum": ["s"] * 5,
            "n_plots": n_plots,
            "status": ["estimated"] * 3 + ["one plot", "no plots"],
            "sampled_ha": [n * 0.05 if n else np.nan for n in n_plots],
            "stems_per_ha": [v * 20 for v in mean],
            "stems_per_ha_se": [v * 20 for v in se],
            "basal_area_m2_per_ha": mean,
            "basal_area_m2_per_ha_se": se,
        }
        | more
    )


def _settings(few_plots: str) -> Settings:
    """Return settings that ask for it."""
    return Settings.model_validate(
        {"plots": {"design": "circle", "area_m2": 500.0}, "estimates": {"few_plots": few_plots}}
    )


def _pooled() -> float:
    """Return the pooled variance between plots for one hectare of plot."""
    df, se, area = np.array([3, 2, 4]), np.array([2.0, 3.0, 1.5]), np.array([0.2, 0.15, 0.25])
    return float((df * se**2 * area).sum() / df.sum())


def test_nothing_is_modelled_unless_asked_for() -> None:
    assert model_based(_compartments(), _settings("missing")).is_empty()


def test_one_plot_is_mixed_with_its_likes_and_none_takes_their_mean() -> None:
    table = model_based(_compartments(), _settings("composite"))
    assert table["compartment"].to_list() == ["4", "5"]
    assert table["method"].to_list() == ["composite", "synthetic"]
    assert table["status"].to_list() == ["model-based"] * 2
    assert table["n_likes"].to_list() == [4, 4]
    variance = _pooled() / np.array([0.2, 0.15, 0.25, 0.05])
    model = area_model([20.0, 26.0, 31.0, 40.0], variance, np.zeros(4, int), 1)
    mixed, mixed_se, share = model.composite([40.0], variance[3:], [0])
    assert table["basal_area_m2_per_ha"][0] == pytest.approx(mixed[0], rel=1e-12)
    assert table["basal_area_m2_per_ha_se"][0] == pytest.approx(mixed_se[0], rel=1e-12)
    assert table["basal_area_m2_per_ha_own_share"][0] == pytest.approx(share[0], rel=1e-12)
    assert 0 < share[0] < 1
    estimate, se = model.synthetic([0])
    assert table["basal_area_m2_per_ha"][1] == pytest.approx(estimate[0], rel=1e-12)
    assert table["basal_area_m2_per_ha_se"][1] == pytest.approx(se[0], rel=1e-12)
    assert (table["basal_area_m2_per_ha_low"] >= 0).all()


def test_synthetic_leaves_a_single_plot_aside() -> None:
    table = model_based(_compartments(), _settings("synthetic"))
    assert table["method"].to_list() == ["synthetic", "synthetic"]
    assert table["basal_area_m2_per_ha_own_share"].to_list() == [0, 0]
    assert table["basal_area_m2_per_ha"][0] == table["basal_area_m2_per_ha"][1]


def test_a_stratum_with_two_compartments_borrows_from_the_whole_survey() -> None:
    frame = _compartments(stratum=["s", "s", "s", "t", "t"])
    assert model_based(frame, _settings("composite"))["likes"].to_list() == ["survey", "survey"]


def test_two_compartments_in_all_are_too_few_and_have_no_figures() -> None:
    frame = _compartments().iloc[[0, 1, 4]].reset_index(drop=True)
    row = model_based(frame, _settings("synthetic")).row(0, named=True)
    assert row["status"] == "too few compartments"
    assert row["basal_area_m2_per_ha"] is None
    assert row["stems_per_ha_se"] is None


def test_a_compartment_counted_whole_is_neither_modelled_nor_a_like() -> None:
    frame = _compartments(status=["estimated", "estimated", "full count", "one plot", "no plots"])
    table = model_based(frame, _settings("composite"))
    assert table["n_likes"].to_list() == [3, 3]
    assert "3" not in table["compartment"].to_list()
    assert isinstance(table, pl.DataFrame)
