"""Findings of heights and volumes, each on both sides of its bound."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest

from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_EQUATION = {
    "species": "oak", "kind": "power", "a": 0.0001, "b": 2.0, "min_dbh_cm": 5, "max_dbh_cm": 60,
    "bark": "over", "volume_bark": "over", "source": "invented",
}  # fmt: skip


def _found(code: str, trees: dict[str, list[Any]], **given: Any) -> list[dict[str, Any]]:
    """Return the findings with a code of stems on one plot."""
    count = len(trees["d1_cm"])
    rows = {"plot": ["P1"] * count, "species": ["oak"] * count, **trees}
    stems = measure_stems(survey_example(trees=rows, **given))
    return stems.findings.frame.filter(pl.col("code") == code).rows(named=True)


@pytest.mark.parametrize(
    ("height_m", "breast_m", "odd"), [(1.37, 1.37, True), (1.38, 1.37, False), (1.3, 1.3, True)]
)
def test_a_tree_not_higher_than_breast_height_is_found(height_m: float, breast_m: float, odd: bool) -> None:  # noqa: FBT001
    found = _found(
        "height-below-breast-height",
        {"d1_cm": [4.0], "height_m": [height_m]},
        settings={"stems": {"breast_height_m": breast_m}},
    )
    assert bool(found) is odd
    for row in found:
        assert (row["row"], row["plot"], row["column"], row["value"]) == (
            2,
            "P1",
            "height_m",
            f"{height_m:g}",
        )
        assert f"is higher than {breast_m:g} m" in row["message"]


@pytest.mark.parametrize(
    ("d_cm", "height_m", "odd"),
    [(10.0, 20.0, False), (10.0, 20.1, True), (100.0, 15.0, False), (100.0, 14.9, True)],
)
def test_a_tree_too_slender_or_too_stout_is_found(d_cm: float, height_m: float, odd: bool) -> None:  # noqa: FBT001
    found = _found("height-not-plausible", {"d1_cm": [d_cm], "height_m": [height_m]})
    assert bool(found) is odd
    for row in found:
        assert (row["row"], row["plot"], row["value"]) == (2, "P1", str(height_m))
        assert "15 to 200 is plausible" in row["message"]


def test_the_band_of_slenderness_is_that_of_the_settings() -> None:
    trees = {"d1_cm": [10.0], "height_m": [20.0]}
    settings = {"heights": {"max_slenderness": 150}}
    (row,) = _found("height-not-plausible", trees, settings=settings)
    assert "200.0 times as much; 15 to 150 is plausible" in row["message"]


@pytest.mark.parametrize(
    ("count", "condition", "odd"), [("all", "dead", 1), ("all", "live", 0), ("live", "dead", 0)]
)
def test_the_height_of_a_dead_stem_that_counts_is_found(count: str, condition: str, odd: int) -> None:
    trees = {"d1_cm": [30.0], "height_m": [7.5], "condition": [condition]}
    found = _found("height-of-dead-stem", trees, settings={"stems": {"count": count}})
    assert len(found) == odd
    for row in found:
        assert (row["row"], row["plot"], row["value"]) == (2, "P1", "7.5")
        assert "not used for the height curve" in row["message"]


@pytest.mark.parametrize(("fewest", "odd"), [(4, 0), (5, 1)])
def test_a_species_with_too_few_heights_is_found(fewest: int, odd: int) -> None:
    trees = {"d1_cm": [20.0, 25.0, 30.0, 35.0], "height_m": [15.0, 17.0, 19.0, 20.0]}
    found = _found("too-few-heights", trees, settings={"heights": {"min_pairs": fewest}})
    assert len(found) == odd
    for row in found:
        assert (row["row"], row["column"], row["value"]) == (2, "height_m", "4")
        assert row["message"] == (
            "oak has 4 of the 5 heights that a height curve needs; all species together have 4, so there is no curve"
        )


def test_a_species_with_too_few_heights_is_told_that_it_takes_the_curve_of_all() -> None:
    trees = {
        "species": ["oak", "oak", "oak", "ash"],
        "d1_cm": [20.0, 25.0, 30.0, 35.0],
        "height_m": [15.0, 17.0, 19.0, 20.0],
    }
    (row,) = _found("too-few-heights", trees, settings={"heights": {"min_pairs": 3}})
    assert (row["row"], row["value"]) == (5, "1")
    assert "ash has 1 of the 3" in row["message"]
    assert "the curve of all species, made from 4" in row["message"]


def test_species_without_any_height_and_surveys_without_heights_are_not_found() -> None:
    assert _found("too-few-heights", {"d1_cm": [20.0], "height_m": [None]}) == []


def test_species_of_a_group_have_their_heights_together() -> None:
    trees = {
        "species": ["silver", "downy", "downy"],
        "d1_cm": [20.0, 25.0, 30.0],
        "height_m": [15.0, 17.0, 19.0],
    }
    groups = {"species": ["silver", "downy"], "group": ["birch", "birch"]}
    settings = {"heights": {"min_pairs": 3}}
    assert _found("too-few-heights", trees, species=groups, settings=settings) == []
    assert len(_found("too-few-heights", trees, settings=settings)) == 2


@pytest.mark.parametrize(
    ("equations", "form_factor", "rows"),
    [
        ([_EQUATION], None, [3]),
        ([_EQUATION], 0.45, []),
        ([_EQUATION, {**_EQUATION, "species": "*"}], None, []),
        ([{**_EQUATION, "species": "broadleaves"}], None, []),
        ([], None, []),
        ([], 0.45, [2]),
    ],
)
def test_a_species_without_equation_and_form_factor_is_found(
    equations: list[dict[str, Any]], form_factor: float | None, rows: list[int]
) -> None:
    found = _found(
        "volume-without-equation",
        {"species": ["oak", "ash"], "d1_cm": [20.0, 30.0]},
        species={
            "species": ["oak", "ash"],
            "group": ["broadleaves"] * 2
            if equations and equations[0]["species"] == "broadleaves"
            else [None] * 2,
            "form_factor": [None, form_factor],
        },
        settings={"volume": {"equations": equations}},
    )
    assert [row["row"] for row in found] == rows
    for row in found:
        assert row["value"] == ("ash" if row["row"] == 3 else "oak")
        assert "no volume equation and no form factor" in row["message"]


def test_a_tallied_species_without_equation_is_found_in_the_tallies() -> None:
    survey = survey_example(
        tallies={"plot": ["P1"], "species": ["ash"], "class": ["20-25"], "count": [3]},
        settings={"classes": {"width_cm": 5}, "volume": {"equations": [_EQUATION]}},
    )
    found = measure_stems(survey).findings.frame.filter(pl.col("code") == "volume-without-equation")
    assert found.select("file", "row", "value").rows() == [("tallies.csv", 2, "ash")]
