from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import polars as pl
import pytest

from plotmap.model.result_tables import COMPARTMENT_RESULTS
from plotmap.output.webmap.figures import columns, number_cells, rounded, text_cells


@pytest.mark.parametrize(
    ("value", "decimals", "shown"),
    [  # rounding, needs no source
        (24.349, 1, 24.3),
        (1.04, 1, 1.0),
        (0.0432, 1, 0.043),
        (0.999, 1, 1.0),
        (9.96, 0, 10.0),
        (5.23, 0, 5.2),
        (412.6, 0, 413.0),
        (0.0, 1, 0.0),
    ],
)
def test_values_keep_their_decimals_and_small_ones_two_figures(
    value: float, decimals: int, shown: float
) -> None:
    assert rounded(np.array([value]), decimals)[0] == pytest.approx(shown, abs=1e-12)


def test_rounding_leaves_its_input_and_the_missing_alone() -> None:
    values = np.array([1.26, np.nan, np.inf])
    shown = rounded(values, 1)
    assert values[0] == 1.26
    assert shown[0] == 1.3
    assert np.isnan(shown[1:]).all()


@pytest.mark.parametrize(
    ("value", "decimals", "shown"),
    [  # the fewest decimals on the value's own side of 10, 22.5 or 50: rounding, needs no source
        (49.87, 0, 49.9),
        (49.96, 0, 49.96),
        (50.0, 0, 50.0),
        (49.4, 0, 49.0),
        (50.4, 0, 50.0),
        (22.4, 0, 22.0),
        (22.46, 1, 22.46),
        (22.6, 0, 23.0),
        (22.5, 0, 22.5),
        (9.96, 0, 9.96),
        (10 - 1e-13, 1, 10.0),
    ],
)
def test_rounding_never_crosses_a_class_edge(value: float, decimals: int, shown: float) -> None:
    found = rounded(np.array([value, np.nan]), decimals, (10.0, 22.5, 50.0))
    assert found[0] == pytest.approx(shown, abs=1e-12)
    assert np.isnan(found[1])


def test_missing_numbers_and_texts_become_none() -> None:
    assert number_cells(np.array([1.0, 2.5, np.nan])) == [1, 2.5, None]
    assert text_cells(pd.Series(["a", None, np.nan])) == ["a", None, None]
    assert text_cells(pl.Series(["a", None])) == ["a", None]


def test_days_are_written_without_a_time() -> None:
    days = pd.Series(["2026-05-14", None])
    assert text_cells(pd.to_datetime(days)) == ["2026-05-14", None]
    assert text_cells(pd.Series([date(2026, 5, 14), None])) == ["2026-05-14", None]


def test_an_estimate_brings_its_limits_and_the_ways_to_them() -> None:
    # 5 − 0 = 5 and 12 − 5 = 7: arithmetic, needs no source
    frame = pd.DataFrame(
        {
            "basal_area_m2_per_ha": [5.0],
            "basal_area_m2_per_ha_low": [0.0],
            "basal_area_m2_per_ha_high": [12.0],
        }
    )
    assert columns(frame, COMPARTMENT_RESULTS, ["basal_area_m2_per_ha"]) == {
        "basal_area_m2_per_ha": [5],
        "basal_area_m2_per_ha_low": [0],
        "basal_area_m2_per_ha_high": [12],
        "basal_area_m2_per_ha_below": [5],
        "basal_area_m2_per_ha_above": [7],
    }
    limits_only = columns(frame, COMPARTMENT_RESULTS, ["basal_area_m2_per_ha"], sides=False)
    assert set(limits_only) == {f"basal_area_m2_per_ha{ending}" for ending in ("", "_low", "_high")}


def test_plots_that_agree_have_no_width_at_all() -> None:
    # upper limit and value differ by the last binary digits only
    frame = pd.DataFrame(
        {
            "basal_area_m2_per_ha": [0.3],
            "basal_area_m2_per_ha_low": [0.3],
            "basal_area_m2_per_ha_high": [0.1 + 0.2],
        }
    )
    found = columns(frame, COMPARTMENT_RESULTS, ["basal_area_m2_per_ha"])
    assert found["basal_area_m2_per_ha_above"] == found["basal_area_m2_per_ha_below"] == [0]
