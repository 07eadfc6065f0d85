"""What must hold of any check measurement (hypothesis)."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from plotmap.model.check_table import CheckComparison
from plotmap.model.survey import Survey
from plotmap.stems import compare_checks, measure_stems
from tests.properties.effort import one_stage
from tests.survey_example import survey_example

_PLOTS = ["P1", "P2"]
_BANDS = [{"name": "ochre", "low_cm": 10, "high_cm": 20}, {"name": "slate", "low_cm": 20, "high_cm": 40}]


def _maybe(values: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | values


_STEM = st.fixed_dictionaries(
    {
        "plot": st.sampled_from([*_PLOTS, "P3"]),
        "tree": _maybe(st.integers(1, 40).map(str)),
        "species": _maybe(st.sampled_from(["oak", "ash"])),
        "condition": _maybe(st.sampled_from(["live", "dead"])),
        "d1_cm": _maybe(st.floats(5, 60)),
        "azimuth_deg": _maybe(st.floats(0, 360)),
        "distance_m": _maybe(st.floats(0, 12)),
    }
)
_STEMS = st.lists(_STEM, max_size=25, unique_by=lambda stem: (stem["plot"], stem["tree"] or object()))
_TALLY = st.fixed_dictionaries(
    {
        "plot": st.sampled_from(_PLOTS),
        "class": st.sampled_from(["ochre", "slate", "40-45"]),
        "count": st.integers(0, 6),
    }
)


def _columns(rows: list[dict[str, Any]], names: list[str]) -> dict[str, list[Any]]:
    return {name: [row[name] for row in rows] for name in names}


def _survey(trees: list[Any], check_trees: list[Any], tallies: list[Any]) -> Survey:
    names = ["plot", "tree", "species", "condition", "d1_cm", "azimuth_deg", "distance_m"]
    return survey_example(
        trees=_columns(trees, names),
        check_trees=_columns(check_trees, names),
        tallies=_columns(tallies, ["plot", "class", "count"]),
        plots={"plot": [*_PLOTS, "P3"], "state": ["measured", "measured", "lost"]},
        settings={"classes": {"width_cm": 5, "bands": _BANDS}, "stems": {"min_dbh_cm": 10}},
    )


def _compared(survey: Survey) -> CheckComparison:
    return compare_checks(survey, measure_stems(survey))


@one_stage
@given(_STEMS, _STEMS, st.lists(_TALLY, max_size=8))
def test_every_row_of_the_check_is_used_once_or_set_aside(
    trees: list[Any], check_trees: list[Any], tallies: list[Any]
) -> None:
    found = _compared(_survey(trees, check_trees, tallies))
    rows = found.differences["check_source_row"].drop_nulls()
    assert rows.is_unique().all()
    assert found.rows_used == len(rows)
    assert found.rows_used + found.set_aside["rows"].sum() == len(check_trees)


@one_stage
@given(_STEMS, _STEMS, st.lists(_TALLY, max_size=8))
def test_every_stem_of_the_crew_that_counts_on_a_checked_plot_is_there_once(
    trees: list[Any], check_trees: list[Any], tallies: list[Any]
) -> None:
    survey = _survey(trees, check_trees, tallies)
    stems, found = measure_stems(survey), _compared(survey)
    checked = {row["plot"] for row in check_trees} & set(_PLOTS)
    counting = stems.measured.filter(pl.col("plot").is_in(checked))["source_row"].to_list()
    mine = found.differences.filter(pl.col("set_aside").is_null())["source_row"].drop_nulls()
    assert sorted(mine) == sorted(counting)
    tallied = sum(row["count"] for row in tallies if row["plot"] in checked)
    by_count = found.differences.filter(pl.col("source_row").is_null() & (pl.col("outcome") != "missed"))
    assert by_count["n_stems"].sum() == tallied


@one_stage
@given(_STEMS, _STEMS, st.lists(_TALLY, max_size=8))
def test_the_groups_of_the_summary_add_up_to_the_whole(
    trees: list[Any], check_trees: list[Any], tallies: list[Any]
) -> None:
    found = _compared(_survey(trees, check_trees, tallies))
    names = ["n_pairs", "n_tallied", "n_same_class", "n_missed", "n_extra"]
    whole = found.summary.filter(pl.col("group") == "all").select(pl.col(names).sum()).row(0)
    for groups in (["crew"], ["class", "band"]):
        parts = found.summary.filter(pl.col("group").is_in(groups)).select(pl.col(names).sum()).row(0)
        assert parts == whole
    assert found.confusion["n_stems"].sum() == found.differences["n_stems"].sum()


@one_stage
@given(_STEMS, _STEMS, st.lists(_TALLY, max_size=8), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(
    trees: list[Any], check_trees: list[Any], tallies: list[Any], random: Any
) -> None:
    survey = _survey(trees, check_trees, tallies)
    mixed = replace(
        survey,
        trees=survey.trees[random.sample(range(len(trees)), len(trees))],
        check_trees=survey.check_trees[random.sample(range(len(check_trees)), len(check_trees))],
        tallies=survey.tallies[random.sample(range(len(tallies)), len(tallies))],
    )
    first, second = _compared(survey), _compared(mixed)
    assert first.differences.equals(second.differences)
    assert first.summary.equals(second.summary)
    assert first.confusion.equals(second.confusion)


@one_stage
@given(_STEMS)
def test_a_check_that_reads_the_same_finds_no_difference(trees: list[Any]) -> None:
    found = _compared(_survey(trees, trees, []))
    apart = found.differences.filter(pl.col("compared_by") != "position")["difference_mm"]
    assert (apart.abs() < 1e-6).all()  # two stems on one spot may change places
    assert not {"check-bias", "check-outside-tolerance"} & found.findings.codes
    assert set(found.differences["outcome"]) <= {"pair"}


@one_stage
@given(
    st.lists(st.floats(10, 60), min_size=1, max_size=7),
    st.lists(st.floats(10, 60), min_size=1, max_size=7),
)
def test_partners_by_size_cost_what_the_dense_solver_of_scipy_finds(
    crew: list[float], again: list[float]
) -> None:
    # (difference / 30 mm)² a pair, 1 a stem that is left; scipy.optimize.linear_sum_assignment with stand-ins.
    def stems(sizes: list[float]) -> list[dict[str, Any]]:
        blank = dict.fromkeys(["tree", "species", "condition", "azimuth_deg", "distance_m"])
        return [{**blank, "plot": "P1", "d1_cm": size} for size in sizes]

    found = _compared(_survey(stems(crew), stems(again), []))
    pairs = found.differences.filter(pl.col("outcome") == "pair")["difference_mm"]
    left = len(crew) + len(again) - 2 * len(pairs)
    mine = float(((pairs / 30) ** 2).sum()) + left
    n, m = len(crew), len(again)
    cost = (10 * np.subtract.outer(np.array(crew), np.array(again)) / 30) ** 2
    square = np.zeros((n + m, n + m))
    square[:n, :m] = np.where(cost <= 1, cost, 1e6)
    square[:n, m:] = np.where(np.eye(n) == 1, 1.0, 1e6)
    square[n:, :m] = np.where(np.eye(m) == 1, 1.0, 1e6)
    rows, columns = linear_sum_assignment(square)
    assert mine == pytest.approx(float(square[rows, columns].sum()), abs=1e-4)
