"""Which species are reported together, worked by hand on small surveys."""

from __future__ import annotations

from typing import Any

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plotmap.model.plot_table import PlotValues
from plotmap.model.sharing import Hidden
from plotmap.plots import compute_plots
from plotmap.sharing import hide_species, without_figure
from plotmap.sharing.species import folded
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

OTHER = "other species"


def _trees(rows: list[tuple[str, str, int, float]]) -> dict[str, list[Any]]:
    """Return stems: plot, species, how many of them, diameter in cm."""
    every = [(plot, species, d_cm) for plot, species, n, d_cm in rows for _ in range(n)]
    return {
        "plot": [plot for plot, _, _ in every],
        "tree": [str(number) for number in range(len(every))],
        "species": [species for _, species, _ in every],
        "d1_cm": [d_cm for _, _, d_cm in every],
    }


def _hidden(
    rows: list[tuple[str, str, int, float]],
    species: dict[str, list[Any]],
    settings: dict[str, Any] | None = None,
) -> tuple[Hidden, PlotValues]:
    """Return what is hidden; plots 1, 3, … lie in compartment A, plots 2, 4, … in B."""
    plots = {"plot": ["1", "2", "3", "4"]}
    survey = survey_example(trees=_trees(rows), plots=plots, species=species, settings=settings)
    values = compute_plots(survey, measure_stems(survey))
    _, recoded, hidden = hide_species(survey, values)
    return hidden, recoded


ELM = {"species": ["elm", "oak", "ash", "fir"], "sensitive": ["yes", "no", None, "no"]}


def test_without_a_sensitive_species_nothing_is_hidden() -> None:
    species = {"species": ["oak"], "sensitive": [None]}
    hidden, values = _hidden([("1", "oak", 3, 20.0)], species)
    assert hidden == Hidden()
    assert set(values.cells["species"]) == {"oak"}


def test_the_rarest_species_that_stands_beside_it_joins() -> None:
    rows = [("1", "elm", 1, 30.0), ("1", "oak", 20, 30.0), ("1", "ash", 4, 20.0), ("2", "ash", 4, 20.0)]
    hidden, values = _hidden([*rows, ("2", "oak", 9, 30.0)], ELM)
    assert hidden.joined == {"ash"}
    assert (hidden.n_with, hidden.n_apart, hidden.n_only) == (1, 1, 0)
    assert set(values.standing["species"]) == {OTHER, "oak"}
    assert set(values.standing["species_written"]) == {"elm", "ash", "oak"}


def test_a_species_that_stands_elsewhere_only_does_not_hide_it() -> None:
    """Ash would be rarer than oak, but no ash stands where the elm does."""
    rows = [("1", "elm", 1, 30.0), ("1", "oak", 20, 30.0), ("2", "ash", 4, 20.0), ("2", "fir", 90, 40.0)]
    hidden, _ = _hidden(rows, ELM)
    assert "oak" in hidden.joined
    assert "fir" not in hidden.joined


@pytest.mark.parametrize(("fewest", "joined"), [(0, {"ash"}), (2, {"ash"}), (3, {"ash", "oak"})])
def test_the_group_holds_as_many_others_as_the_settings_ask(fewest: int, joined: set[str]) -> None:
    rows = [("1", "elm", 5, 30.0), ("1", "ash", 2, 12.0), ("1", "oak", 20, 30.0), ("2", "ash", 1, 12.0)]
    hidden, _ = _hidden(rows, ELM, {"share": {"round_sensitive_below": fewest}})
    assert hidden.joined == joined


def test_the_group_stands_elsewhere_too_where_it_can() -> None:
    """Ash hides the elm in A, but stands nowhere else: the group alone would point to A."""
    rows = [("1", "elm", 1, 30.0), ("1", "ash", 9, 12.0), ("2", "fir", 3, 12.0), ("2", "oak", 40, 30.0)]
    hidden, _ = _hidden(rows, ELM)
    assert hidden.joined == {"ash", "fir"}
    assert hidden.n_apart == 1


def test_nothing_can_join_where_nothing_else_stands_and_that_is_counted() -> None:
    hidden, values = _hidden([("1", "elm", 6, 30.0), ("2", "oak", 6, 30.0)], ELM)
    assert hidden.n_only == 1
    assert set(values.cells["species"]) == {OTHER}


def test_a_group_goes_with_its_sensitive_species() -> None:
    species = {"species": ["elm", "planera", "oak", "ash"], "group": ["elms", "elms", None, None]}
    rows = [("1", "planera", 3, 20.0), ("1", "oak", 9, 30.0), ("2", "ash", 9, 30.0), ("2", "oak", 90, 30.0)]
    hidden, values = _hidden(rows, species | {"sensitive": ["yes", "no", None, None]})
    assert "elms" in hidden.reported
    assert "elms" not in set(values.cells["species"])


@pytest.mark.parametrize(
    ("spelling", "hides"), [("Elm", True), ("élm", True), ("elmm", True), ("elder", False), ("fim", False)]
)
def test_a_spelling_that_is_not_known_and_resembles_it_counts_as_it(spelling: str, hides: bool) -> None:  # noqa: FBT001
    rows = [("1", spelling, 3, 20.0), ("1", "oak", 9, 30.0), ("2", "oak", 9, 30.0)]
    hidden, _ = _hidden(rows, ELM)
    assert (spelling in hidden.written) is hides


def test_a_known_species_is_never_taken_for_a_misspelt_one() -> None:
    species = {"species": ["elm", "elms", "oak"], "sensitive": ["yes", "no", "no"]}
    hidden, _ = _hidden([("1", "elms", 3, 20.0), ("2", "oak", 9, 30.0)], species)
    assert hidden.written == {"elm"}


def test_a_species_that_is_called_like_the_group_is_part_of_it() -> None:
    rows = [("1", "elm", 1, 30.0), ("1", OTHER, 4, 20.0), ("2", OTHER, 4, 20.0), ("2", "oak", 4, 20.0)]
    hidden, _ = _hidden(rows, ELM)
    assert OTHER in hidden.joined


@given(
    st.lists(
        st.tuples(
            st.sampled_from("1234"),
            st.sampled_from(["elm", "oak", "ash", "fir"]),
            st.integers(1, 9),
            st.just(20.0),
        ),
        min_size=1,
        max_size=12,
    ),
    st.integers(0, 6),
)
def test_whatever_stands_where_the_group_hides_it_as_far_as_it_can(
    rows: list[tuple[str, str, int, float]], fewest: int
) -> None:
    hidden, values = _hidden(rows, ELM, {"share": {"round_sensitive_below": fewest}})
    stems = pl.DataFrame(rows, schema=["plot", "species", "n", "d_cm"], orient="row").with_columns(
        (pl.col("plot").cast(pl.Int64) % 2).alias("home")
    )
    assert values.cells["n_trees"].sum() == stems["n"].sum()
    for _, of_one in stems.group_by("home"):
        counts = dict(of_one.group_by("species").agg(pl.col("n").sum()).iter_rows())
        if "elm" in counts:
            others = sum(n for name, n in counts.items() if name != "elm")
            inside = sum(n for name, n in counts.items() if name in hidden.joined)
            assert inside >= min(max(1, fewest), others)


def test_an_equation_of_the_group_stays_that_of_its_species() -> None:
    settings = {"density": {"maxima": [{"species": "elms", "index": 900}, {"species": "oak", "index": 1000}]}}
    species = {"species": ["elm", "oak"], "group": ["elms", None], "sensitive": ["yes", None]}
    rows = [("1", "elm", 3, 20.0), ("2", "oak", 3, 20.0)]
    survey = survey_example(
        trees=_trees(rows), plots={"plot": ["1", "2", "3", "4"]}, species=species, settings=settings
    )
    changed, _, hidden = hide_species(survey, compute_plots(survey, measure_stems(survey)))
    assert {entry.species: entry.index for entry in changed.settings.density.maxima}["elm"] == 900
    assert without_figure(changed.settings, changed.species, hidden) == (False, False)
    assert without_figure(survey.settings, survey.species, hidden) == (False, True)


@pytest.mark.parametrize(
    ("one", "other"),
    [("Éßen", "essen"), (" wych  ELM", "wych elm"), ("ＥＬＭ", "elm"), ("Ulmus\u00a0glabra", "ulmus glabra")],
)
def test_texts_are_compared_without_accents_capitals_and_widths(one: str, other: str) -> None:
    assert folded(one) == folded(other)
