"""Height curves and heights of stems. Expected heights are those of the curve that the stems were made by."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl
import pytest

from plotmap.plots import compute_plots
from plotmap.stand.heights import StemHeights, stem_heights
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_D = [12.0, 15.0, 18.0, 21.0, 24.0, 27.0, 30.0, 35.0, 40.0, 45.0]


def _curve(d_cm: npt.ArrayLike, bh_m: float = 1.3) -> list[float]:
    """Return heights of Michailow's form with 30 m and 10 cm."""
    return list(bh_m + 30 * np.exp(-10 / np.asarray(d_cm, dtype=float)))


def _heights(trees: dict[str, list[Any]], **given: Any) -> StemHeights:
    """Return the heights of stems that all stand on one plot."""
    trees = {"plot": ["P1"] * len(trees["d1_cm"]), **trees}
    survey = survey_example(trees=trees, **given)
    return stem_heights(compute_plots(survey, measure_stems(survey)).standing, survey.settings)


def _row(heights: StemHeights, species: str) -> dict[str, Any]:
    """Return the row of the curves of one species."""
    return heights.curves.row(by_predicate=pl.col("species") == species, named=True)


def test_a_stem_without_height_gets_that_of_the_curve_and_is_marked() -> None:
    found = _heights(
        {"species": ["oak"] * 12, "d1_cm": [*_D, 20.0, 50.0], "height_m": [*_curve(_D), None, None]}
    )
    assert found.stems["height_used_m"].to_list() == pytest.approx(_curve([*_D, 20.0, 50.0]), rel=1e-9)
    assert found.stems["height_by"].to_list() == ["measured"] * 10 + ["curve"] * 2
    assert found.stems["height_outside"].to_list() == [False] * 11 + [True]
    row = _row(found, "oak")
    assert (row["form"], row["status"], row["n_pairs"]) == ("michailow", "fitted", 10)
    assert (row["a"], row["b"]) == pytest.approx((30, 10), rel=1e-9)
    assert (row["dbh_low_cm"], row["dbh_high_cm"]) == (12, 45)
    assert (row["n_from_curve"], row["n_outside_range"]) == (2, 1)


@pytest.mark.parametrize(("d_cm", "outside"), [(12.0, False), (45.0, False), (11.9, True), (45.1, True)])
def test_diameters_at_the_ends_of_the_range_are_inside(d_cm: float, outside: bool) -> None:  # noqa: FBT001
    found = _heights({"species": ["oak"] * 11, "d1_cm": [*_D, d_cm], "height_m": [*_curve(_D), None]})
    assert found.stems["height_outside"].to_list()[-1] is outside


def test_a_species_with_too_few_heights_takes_the_curve_of_all() -> None:
    found = _heights(
        {
            "species": ["oak"] * 10 + ["ash"] * 2,
            "d1_cm": [*_D, 20.0, 26.0],
            "height_m": [*_curve(_D), *_curve([20.0]), None],
        }
    )
    assert (_row(found, "ash")["status"], _row(found, "ash")["form"]) == ("too few heights", None)
    assert _row(found, "all species")["n_pairs"] == 11
    assert _row(found, "all species")["n_from_curve"] == 1
    assert _row(found, "oak")["n_from_curve"] == 0
    assert found.stems["height_used_m"].to_list()[-1] == pytest.approx(_curve([26.0])[0], rel=1e-9)


@pytest.mark.parametrize(("fewest", "status"), [(10, "fitted"), (11, "too few heights")])
def test_a_curve_needs_the_pairs_of_the_settings(fewest: int, status: str) -> None:
    found = _heights(
        {"species": ["oak"] * 10, "d1_cm": _D, "height_m": _curve(_D)},
        settings={"heights": {"min_pairs": fewest}},
    )
    assert _row(found, "oak")["status"] == status


def test_breast_height_of_the_settings_is_the_floor_of_the_curve() -> None:
    found = _heights(
        {"species": ["oak"] * 10, "d1_cm": _D, "height_m": _curve(_D, 1.37)},
        settings={"stems": {"breast_height_m": 1.37}},
    )
    assert (_row(found, "oak")["a"], _row(found, "oak")["b"]) == pytest.approx((30, 10), rel=1e-9)
    assert _row(found, "oak")["residual_sd_m"] == pytest.approx(0, abs=1e-9)


def test_dead_stems_and_heights_not_above_breast_height_are_not_in_the_curve() -> None:
    found = _heights(
        {
            "species": ["oak"] * 12,
            "d1_cm": [*_D, 30.0, 30.0],
            "height_m": [*_curve(_D), 4.0, 1.3],
            "condition": ["live"] * 10 + ["dead", "live"],
        },
        settings={"stems": {"count": "all"}},
    )
    assert _row(found, "oak")["n_pairs"] == 10
    assert found.stems["height_by"].to_list()[-2:] == ["measured", "curve"]
    assert found.stems["live"].to_list()[-2:] == [False, True]


def test_heights_that_fall_with_diameter_give_no_curve_and_no_height() -> None:
    found = _heights({"species": ["oak"] * 11, "d1_cm": [*_D, 25.0], "height_m": [*_curve(_D)[::-1], None]})
    assert _row(found, "oak")["status"] == "no rising curve"
    assert found.stems["height_used_m"].to_list()[-1] is None
    assert found.stems["height_by"].to_list()[-1] is None


def test_a_survey_without_heights_has_no_curves() -> None:
    found = _heights({"species": ["oak"] * 2, "d1_cm": [20.0, 30.0]})
    assert found.curves.height == 0
    assert not found.any_measured
    assert found.stems["height_used_m"].null_count() == 2


def test_species_of_a_group_share_a_curve() -> None:
    found = _heights(
        {"species": ["silver", "downy"] * 5, "d1_cm": _D, "height_m": _curve(_D)},
        species={"species": ["silver", "downy"], "group": ["birch", "birch"]},
    )
    assert found.curves["species"].to_list() == ["birch", "all species"]
    assert _row(found, "birch")["status"] == "fitted"


def test_tallied_stems_take_the_height_at_the_mean_diameter_of_their_class() -> None:
    found = _heights(
        {"species": ["oak"] * 10, "d1_cm": _D, "height_m": _curve(_D)},
        tallies={"plot": ["P1"], "species": ["oak"], "class": ["20-25"], "count": [4]},
        settings={"classes": {"width_cm": 5}},
    )
    tallied = found.stems.filter(~pl.col("measured"))
    assert tallied["height_used_m"].to_list() == pytest.approx(_curve(tallied["dbh_cm"]), rel=1e-9)
    assert _row(found, "oak")["n_from_curve"] == 4


def test_the_order_of_the_rows_changes_no_curve() -> None:
    rng = np.random.default_rng(3)
    d = rng.uniform(10, 50, 40)
    h = np.asarray(_curve(d)) + rng.normal(0, 1, 40)
    order = rng.permutation(40)
    one = _heights({"species": ["oak"] * 40, "d1_cm": list(d), "height_m": list(h)})
    other = _heights({"species": ["oak"] * 40, "d1_cm": list(d[order]), "height_m": list(h[order])})
    assert one.curves.equals(other.curves)
