from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from plotmap.model.settings_map import MAP_THEMES, SPECIES_SHARE, MapSection
from plotmap.output.webmap.themes import (
    LARGE_ERROR_HATCH,
    NO_VALUE,
    ONE_PLOT_HATCH,
    PLAIN,
    UNKNOWN,
    classify,
    hatches,
    in_fixed_classes,
    ramp,
    themes,
)


def compartments(**columns: list[object]) -> pd.DataFrame:
    """Return a table of compartments with the columns themes read."""
    names = ("basal_area_m2_per_ha", "stems_per_ha", "dg_cm", "sampling_error_pct")
    rows = len(columns["status"])
    return pd.DataFrame({name: columns.get(name, [20.0] * rows) for name in (*names, "status")})


def test_the_lower_edge_belongs_to_the_class_and_the_top_edge_to_the_last() -> None:
    labels, classes, _ = classify(np.array([3.0, 9.9, 10.0, 49.9, 50.0, np.nan]))
    assert labels == ("0–<10", "10–<20", "20–<30", "30–<40", "40–50")
    assert classes.tolist() == [0, 0, 1, 4, 4, NO_VALUE]


def test_a_far_outlier_falls_in_an_open_top_class() -> None:
    labels, classes, _ = classify(np.array([*range(10, 50), 900.0]))
    assert labels[-1] == "≥50"
    assert labels[0] == "10–<20"
    assert classes[-1] == len(labels) - 1
    assert (classes[:-1] < len(labels) - 1).all()


def test_errors_above_the_cap_share_an_open_class_unless_all_are_above() -> None:
    labels, _, _ = classify(np.array([12.0, 30.0, 60.0, 90.0]), cap=50)
    assert labels[-1] == "≥50"
    labels, classes, _ = classify(np.array([60.0, 70.0, 90.0]), cap=50)
    assert labels[0].startswith("60")
    assert len(set(classes.tolist())) > 1


def test_values_are_classed_before_they_are_rounded() -> None:
    table = compartments(status=["estimated"] * 4, sampling_error_pct=[12.0, 49.85, 50.0, 90.0])
    theme = {theme.column: theme for theme in themes(table)}["sampling_error_pct"]
    assert theme.labels == ("10–<20", "20–<30", "30–<40", "40–<50", "≥50")
    assert theme.classes.tolist() == [0, 3, 4, 4]
    assert hatches(table).tolist() == [PLAIN, PLAIN, LARGE_ERROR_HATCH, LARGE_ERROR_HATCH]
    assert theme.counts[-1] == (hatches(table) == LARGE_ERROR_HATCH).sum()
    assert 50.0 in theme.edges


@pytest.mark.parametrize(
    ("values", "first"),
    [([24.0, 26.5, 25.2], "0–<5"), ([75.1, 100.0], "0–<20"), ([74.9, 100.0], "70–<75")],
)
def test_values_that_differ_little_get_classes_from_zero(values: list[float], first: str) -> None:
    # 24.9 of 100 is below a quarter, 25.1 above it: arithmetic, needs no source
    assert classify(np.array(values))[0][0] == first


@pytest.mark.parametrize(("half", "width"), [(2.0, 10.0), (20.0, 10.0), (21.0, 20.0), (45.0, 25.0)])
def test_a_class_is_not_narrower_than_half_the_median_error(half: float, width: float) -> None:
    values = [3.0, 12.0, 41.0]
    table = compartments(status=["estimated"] * 3, basal_area_m2_per_ha=values)
    table["basal_area_m2_per_ha_high"] = [value + half for value in values]
    edges = themes(table)[0].edges
    assert np.allclose(np.diff(edges), width)


def test_no_values_give_no_classes_and_zeros_give_one() -> None:
    assert classify(np.array([np.nan]))[0] == ()
    labels, classes, _ = classify(np.zeros(3))
    assert labels == ("0–1",)
    assert classes.tolist() == [0, 0, 0]


def test_no_plots_is_told_apart_from_zero_and_from_a_missing_value() -> None:
    table = compartments(
        status=["estimated", "estimated", "no plots"],
        basal_area_m2_per_ha=[0.0, 24.0, None],
        dg_cm=[None, 31.0, None],
    )
    found = {theme.column: theme for theme in themes(table)}
    assert tuple(found) == MAP_THEMES
    assert found["basal_area_m2_per_ha"].classes[0] == 0
    assert found["basal_area_m2_per_ha"].classes[2] == UNKNOWN
    assert found["dg_cm"].classes.tolist() == [NO_VALUE, 3, UNKNOWN]  # 31 in 0, 10, 20, 30, 40
    assert found[SPECIES_SHARE].labels == ("0–<10", "10–<25", "25–<50", "50–<75", "75–100")
    for theme in found.values():
        assert len(theme.colours) == len(theme.labels) == len(theme.counts)
        assert sum(theme.counts) == (theme.classes >= 0).sum()


def test_hatching_tells_one_plot_from_a_large_error() -> None:
    table = compartments(
        status=["estimated", "estimated", "estimated", "one plot", "no plots"],
        sampling_error_pct=[49.99, 50.0, 51.0, None, None],
    )
    expected = [PLAIN, LARGE_ERROR_HATCH, LARGE_ERROR_HATCH, ONE_PLOT_HATCH, PLAIN]
    assert hatches(table).tolist() == expected


def test_the_limit_of_a_large_error_is_that_of_the_settings() -> None:
    table = compartments(status=["estimated"] * 3, sampling_error_pct=[29.9, 30.0, 31.0])
    assert hatches(table, 30).tolist() == [PLAIN, LARGE_ERROR_HATCH, LARGE_ERROR_HATCH]
    theme = {theme.column: theme for theme in themes(table, MapSection(large_error_pct=30))}
    assert 30.0 in theme["sampling_error_pct"].edges


def test_breaks_of_the_settings_stay_the_same_whatever_the_values() -> None:
    chosen = MapSection.model_validate({"breaks": {"basal_area_m2_per_ha": [10, 20, 30]}})
    for values, classes in (([9.999, 10.0, 29.9, 30.0], [0, 1, 2, 3]), ([21.0, 22.0, 23.0, 24.0], [2] * 4)):
        table = compartments(status=["estimated"] * 4, basal_area_m2_per_ha=values)
        theme = themes(table, chosen)[0]
        assert theme.labels == ("<10", "10–<20", "20–<30", "≥30")
        assert theme.classes.tolist() == classes
        assert theme.colours == ramp(4)


def test_fixed_classes_are_open_only_where_something_can_lie_outside() -> None:
    labels, classes, lows = in_fixed_classes(np.array([0.0, 99.9, 100.0, np.nan]), (0, 50, 100), most=100)
    assert labels == ("0–<50", "50–100")
    assert classes.tolist() == [0, 1, 1, NO_VALUE]
    assert lows == (0, 50)
    assert in_fixed_classes(np.array([100.0]), (0, 50), most=100)[0] == ("0–<50", "≥50")
    assert in_fixed_classes(np.array([5.0]), (20,))[0] == ("<20", "≥20")
    assert in_fixed_classes(np.array([0.0]), (0,))[0] == ("≥0",)


@pytest.mark.parametrize("number", range(1, 10))
def test_the_ramp_darkens_without_a_turn(number: int) -> None:
    # relative luminance of WCAG 2.2, definition in the standard's glossary
    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    found = [luminance(colour) for colour in ramp(number)]
    assert len(found) == number
    assert found == sorted(found, reverse=True)
