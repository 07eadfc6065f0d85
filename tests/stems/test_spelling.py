"""Names that differ only in capitals."""

from typing import Any

import polars as pl
import pytest

from plotmap.stems import measure_stems
from tests.survey_example import survey_example


def _cells(**tables: Any) -> list[dict[str, Any]]:
    found = measure_stems(survey_example(**tables)).findings.frame
    return found.filter(pl.col("code") == "spelling-differs-in-capitals").rows(named=True)


def _trees(*species: str | None) -> dict[str, Any]:
    return {"plot": ["P1"] * len(species), "species": list(species), "d1_cm": [30.0] * len(species)}


def test_the_rarer_spelling_of_a_species_is_named_with_both_counts() -> None:
    (found,) = _cells(trees=_trees("oak", "Oak", "oak", "ash", None))
    assert (found["severity"], found["file"], found["row"], found["value"]) == (
        "warning",
        "trees.csv",
        3,
        "Oak",
    )
    assert "Oak (rows: 1) differs only in capitals from oak (rows: 2)" in found["message"]


def test_stems_and_tallies_are_compared_with_one_another() -> None:
    tallies = {"plot": ["P1"], "species": ["OAK"], "class": ["10-15"], "count": [4]}
    (found,) = _cells(trees=_trees("oak", "oak"), tallies=tallies)
    assert (found["file"], found["row"], found["value"]) == ("tallies.csv", 2, "OAK")


def test_a_species_of_the_table_that_nobody_writes_is_named() -> None:
    (found,) = _cells(trees=_trees("Oak"), species={"species": ["oak"]})
    assert (found["file"], found["value"]) == ("species.csv", "oak")
    assert "oak (rows: 0) differs only in capitals from Oak (rows: 1)" in found["message"]


def test_classes_of_tallies_are_compared_too() -> None:
    tallies = {"plot": ["P1"] * 3, "class": ["10-15", "20 to 25", "20 TO 25"], "count": [1, 1, 1]}
    assert [cell["value"] for cell in _cells(tallies=tallies)] == ["20 to 25"]


@pytest.mark.parametrize("pair", [("oak", "oak"), ("oak", "oaks"), ("Ash", "oak")])
def test_other_differences_are_left_alone(pair: tuple[str, str]) -> None:
    assert _cells(trees=_trees(*pair)) == []
