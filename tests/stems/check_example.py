"""Checked plots made from small frames, for the tests of check measurements."""

from __future__ import annotations

from typing import Any

import polars as pl

from plotmap.model.check_table import CheckComparison
from plotmap.stems import compare_checks, measure_stems
from tests.survey_example import Rows, survey_example

BANDS = [{"name": "ochre", "low_cm": 10, "high_cm": 20}, {"name": "slate", "low_cm": 20, "high_cm": 40}]
PLOT = {"plot": ["P1"], "crew": ["north"]}


def compared(trees: Rows | None = None, check_trees: Rows | None = None, **more: Any) -> CheckComparison:
    """Return the comparison of a survey of one plot by crew north, unless `plots` are given."""
    survey = survey_example(trees=trees, check_trees=check_trees, **{"plots": PLOT, **more})
    return compare_checks(survey, measure_stems(survey))


def stems(diameters: list[float], tree: list[str | None] | None = None, **more: list[Any]) -> dict[str, Any]:
    """Return rows of oaks on P1."""
    n = len(diameters)
    return {"plot": ["P1"] * n, "tree": tree, "species": ["oak"] * n, "d1_cm": diameters, **more} | (
        {} if tree else {"tree": [None] * n}
    )


def outcomes(found: CheckComparison) -> list[tuple[Any, ...]]:
    """Return outcome, both diameters in cm and what partners were found by, in order."""
    return found.differences.select("outcome", "dbh_cm", "check_dbh_cm", "compared_by").rows()


def summary(found: CheckComparison, group: str = "all", value: str = "all") -> dict[str, Any]:
    """Return one row of the summary."""
    return found.summary.row(by_predicate=(pl.col("group") == group) & (pl.col("value") == value), named=True)
