"""Volume by the user's equations. Expected volumes are the equations worked by hand."""

from __future__ import annotations

import math
from typing import Any

import polars as pl
import pytest

from plotmap.plots import compute_plots
from plotmap.stand import Estimates, estimate_stand
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_PLOTS = {"design": "circle", "area_m2": 500.0}
_BASE = {
    "species": "oak",
    "min_dbh_cm": 5,
    "max_dbh_cm": 60,
    "min_height_m": 5,
    "max_height_m": 30,
    "bark": "over",
    "volume_bark": "under",
    "source": "invented for this test",
}
_G = {**_BASE, "species": "*", "kind": "power", "a": math.pi / 40_000, "b": 2.0, "max_dbh_cm": 200}
"""An equation whose volume is the basal area: what is known of the one is known of the other."""
_ONE_OAK = {"plot": ["P1"], "species": ["oak"], "d1_cm": [20.0], "height_m": [15.0]}


def _estimates(**given: Any) -> Estimates:
    """Return the estimates of a survey of plots of 500 m²."""
    settings = {"plots": _PLOTS, **given.pop("settings", {})}
    survey = survey_example(settings=settings, **given)
    return estimate_stand(survey, compute_plots(survey, measure_stems(survey)))


def _of(table: pl.DataFrame, scope: str, name: str | None, species: str = "all species") -> dict[str, Any]:
    """Return one row."""
    named = pl.col("name").is_null() if name is None else pl.col("name") == name
    return table.row(
        by_predicate=(pl.col("scope") == scope) & named & (pl.col("species") == species), named=True
    )


def _equations(*equations: dict[str, Any]) -> dict[str, Any]:
    """Return settings with volume equations."""
    return {"volume": {"equations": list(equations)}}


@pytest.mark.parametrize(
    ("own", "volume_m3"),
    [
        ({"kind": "power", "a": 0.0001, "b": 1.8, "c": 0.9}, 0.0001 * 20**1.8 * 15**0.9),
        ({"kind": "power", "a": 0.0001, "b": 2.4}, 0.0001 * 20**2.4),
        (
            {"kind": "log", "a": -9.0, "b": 1.8, "c": 0.9},
            math.exp(-9 + 1.8 * math.log(20) + 0.9 * math.log(15)),
        ),
        ({"kind": "d2h", "a": 0.01, "b": 0.00004}, 0.01 + 0.00004 * 20**2 * 15),
        ({"kind": "form-factor", "f": 0.45}, math.pi * 0.1**2 * 15 * 0.45),
    ],
)
def test_a_stem_on_500_square_metres_stands_for_20_of_its_volume(
    own: dict[str, Any], volume_m3: float
) -> None:
    found = _estimates(trees=_ONE_OAK, settings=_equations({**_BASE, **own})).volumes
    row = _of(found.volumes, "compartment", "A")
    assert row["volume_m3_per_ha"] == pytest.approx(20 * volume_m3, rel=1e-12)
    assert (row["n_outside_range"], row["n_without_volume"], row["status"]) == (0, 0, "one plot")
    (used,) = found.equations.to_dicts()
    assert (used["source"], used["volume_bark"], used["n_trees"]) == ("invented for this test", "under", 1)


def test_a_volume_that_is_the_basal_area_has_its_errors_limits_and_totals() -> None:
    trees = {
        "plot": ["P1", "P1", "P2", "P3", "P4"],
        "species": ["oak", "ash", "oak", "ash", "oak"],
        "d1_cm": [20.0, 31.0, 44.0, 25.0, 38.0],
    }
    plots = {
        "plot": ["P1", "P2", "P3", "P4", "P5"],
        "compartment": ["A", "A", "A", "B", "B"],
        "area_m2": [500.0, 400.0, 500.0, 300.0, 500.0],
        "state": ["measured"] * 4 + ["empty"],
    }
    found = _estimates(trees=trees, plots=plots, settings=_equations(_G))
    volumes = found.volumes.volumes
    suffixes = ("", "_se", "_low", "_high")
    for frame, scope, names in (
        (found.survey_total, "survey", [None]),
        (found.strata, "stratum", ["all"]),
        (found.compartments, "compartment", ["A", "B"]),
    ):
        for name, expected in zip(names, frame.to_dict(orient="records"), strict=True):
            row = _of(volumes, scope, name)
            for figure in ("m3_per_ha", "m3_total"):
                basal = f"basal_area_{figure.replace('m3', 'm2')}"
                for suffix in suffixes:
                    assert row[f"volume_{figure}{suffix}"] == pytest.approx(
                        expected[basal + suffix], rel=1e-9
                    )
            assert row["status"] == "estimated"
    for expected in found.tables.species_totals.to_dicts():
        row = _of(volumes, "compartment", expected["compartment"], expected["species"])
        for suffix in suffixes:
            figure = f"volume_m3_per_ha{suffix}"
            assert row[figure] == pytest.approx(expected[f"basal_area_m2_per_ha{suffix}"], rel=1e-9)


def test_the_species_of_a_compartment_add_up_to_all_species() -> None:
    trees = {"plot": ["P1"] * 3, "species": ["oak", "ash", "oak"], "d1_cm": [20.0, 30.0, 40.0]}
    found = _estimates(trees=trees, settings=_equations(_G)).volumes.volumes
    parts = [_of(found, "compartment", "A", name)["volume_m3_per_ha"] for name in ("oak", "ash")]
    assert sum(parts) == pytest.approx(_of(found, "compartment", "A")["volume_m3_per_ha"], rel=1e-12)


def test_a_lone_plot_borrows_the_variance_for_the_total_as_basal_area_does() -> None:
    trees = {"plot": ["P1", "P2", "P3"], "species": ["oak"] * 3, "d1_cm": [20.0, 44.0, 30.0]}
    plots = {"plot": ["P1", "P2", "P3"], "compartment": ["A", "A", "B"]}
    settings = {**_equations(_G), "estimates": {"one_plot_variance": "pooled"}}
    found = _estimates(trees=trees, plots=plots, settings=settings)
    total = found.survey_total.iloc[0]
    for species in ("all species", "oak"):
        row = _of(found.volumes.volumes, "survey", None, species)
        assert row["volume_m3_total_se"] == pytest.approx(total["basal_area_m2_total_se"], rel=1e-9)
    missing = _estimates(trees=trees, plots=plots, settings=_equations(_G)).volumes.volumes
    assert _of(missing, "survey", None)["volume_m3_total_se"] is None
    assert _of(missing, "survey", None)["status"] == "partly"


@pytest.mark.parametrize(
    ("d_cm", "h_m", "outside"),
    [(5.0, 15.0, 0), (4.9, 15.0, 1), (60.0, 15.0, 0), (60.1, 15.0, 1), (20.0, 30.1, 1), (20.0, 4.9, 1)],
)
def test_stems_outside_the_range_are_computed_and_counted(d_cm: float, h_m: float, outside: int) -> None:
    trees = {"plot": ["P1"], "species": ["oak"], "d1_cm": [d_cm], "height_m": [h_m]}
    found = _estimates(trees=trees, settings=_equations({**_BASE, "kind": "form-factor", "f": 0.5})).volumes
    row = _of(found.volumes, "compartment", "A")
    assert row["n_outside_range"] == found.equations["n_outside_range"][0] == outside
    assert row["volume_m3_per_ha"] == pytest.approx(20 * math.pi * (d_cm / 200) ** 2 * h_m * 0.5, rel=1e-12)


def test_the_form_factor_of_the_species_table_serves_where_no_equation_is_given() -> None:
    trees = {
        "plot": ["P1"] * 2,
        "species": ["oak", "ash"],
        "d1_cm": [20.0, 20.0],
        "height_m": [15.0, 15.0],
    }
    species = {"species": ["oak", "ash"], "form_factor": [0.4, 0.5]}
    cylinder = 20 * math.pi * 0.1**2 * 15
    row = _estimates(trees=trees, species=species).volumes
    assert _of(row.volumes, "compartment", "A", "oak")["volume_m3_per_ha"] == pytest.approx(0.4 * cylinder)
    assert row.equations["source"].to_list() == ["form factor of the species table"] * 2
    own = {**_BASE, "kind": "form-factor", "f": 0.3}
    with_own = _estimates(trees=trees, species=species, settings=_equations(own)).volumes.volumes
    assert _of(with_own, "compartment", "A", "oak")["volume_m3_per_ha"] == pytest.approx(0.3 * cylinder)
    assert _of(with_own, "compartment", "A", "ash")["volume_m3_per_ha"] == pytest.approx(0.5 * cylinder)


def test_a_species_goes_before_its_group_and_a_group_before_the_star() -> None:
    trees = {"plot": ["P1"] * 3, "species": ["silver", "downy", "oak"], "d1_cm": [20.0] * 3}
    species = {"species": ["silver", "downy"], "group": ["birch", "birch"]}
    equations = [{**_G, "species": name, "a": a} for name, a in (("silver", 1.0), ("birch", 2.0), ("*", 3.0))]
    found = _estimates(trees=trees, species=species, settings=_equations(*equations)).volumes
    assert found.equations["n_trees"].to_list() == [1, 1, 1]
    assert _of(found.volumes, "compartment", "A", "birch")["volume_m3_per_ha"] == pytest.approx(20 * 400 * 3)
    assert _of(found.volumes, "compartment", "A", "oak")["volume_m3_per_ha"] == pytest.approx(20 * 400 * 3)


@pytest.mark.parametrize(
    ("trees", "equation", "status"),
    [
        ({**_ONE_OAK, "species": ["ash"]}, {"kind": "form-factor", "f": 0.5}, "no equation"),
        ({**_ONE_OAK, "height_m": [None]}, {"kind": "form-factor", "f": 0.5}, "no heights"),
        (
            {"plot": ["P1"] * 2, "species": ["oak"] * 2, "d1_cm": [20.0, 30.0], "height_m": [15.0, None]},
            {"kind": "form-factor", "f": 0.5},
            "no curve",
        ),
        (_ONE_OAK, {"kind": "d2h", "a": -0.25, "b": 0.00004}, "equation gives none"),
    ],
)
def test_where_a_stem_has_no_volume_none_is_given_and_a_word_says_why(
    trees: dict[str, Any], equation: dict[str, Any], status: str
) -> None:
    found = _estimates(trees=trees, settings=_equations({**_BASE, **equation})).volumes.volumes
    for scope, name in (("compartment", "A"), ("stratum", "all"), ("survey", None)):
        row = _of(found, scope, name)
        assert (row["volume_m3_per_ha"], row["volume_m3_total"], row["n_without_volume"]) == (None, None, 1)
        assert row["status"] == status


def test_heights_from_a_curve_are_counted_where_the_equation_asks_for_them() -> None:
    d = [12.0, 15.0, 18.0, 21.0, 24.0, 27.0, 30.0, 35.0, 40.0, 45.0]
    trees = {
        "plot": ["P1"] * 11,
        "species": ["oak"] * 11,
        "d1_cm": [*d, 20.0],
        "height_m": [*(1.3 + 30 * math.exp(-10 / size) for size in d), None],
    }
    factor = {**_BASE, "kind": "form-factor", "f": 0.5}
    found = _estimates(trees=trees, settings=_equations(factor)).volumes.volumes
    row = _of(found, "compartment", "A")
    solids = sum(math.pi * (size / 200) ** 2 * (1.3 + 30 * math.exp(-10 / size)) for size in [*d, 20.0])
    assert row["n_height_curve"] == 1
    assert row["volume_m3_per_ha"] == pytest.approx(20 * 0.5 * solids, rel=1e-9)
    without = _estimates(trees=trees, settings=_equations({**_G})).volumes.volumes
    assert _of(without, "compartment", "A")["n_height_curve"] == 0


def test_tallied_stems_have_the_diameter_of_their_mean_square() -> None:
    found = _estimates(
        tallies={"plot": ["P1"], "species": ["oak"], "class": ["20-25"], "count": [4]},
        settings={**_equations(_G), "classes": {"width_cm": 5}},
    )
    row = _of(found.volumes.volumes, "compartment", "A")
    assert row["volume_m3_per_ha"] == pytest.approx(found.compartments["basal_area_m2_per_ha"][0], rel=1e-12)


def test_a_compartment_where_nothing_stands_has_a_volume_of_zero() -> None:
    plots = {
        "plot": ["P1", "P2", "P3"],
        "state": ["measured", "empty", "empty"],
        "compartment": ["A", "B", "B"],
    }
    found = _estimates(trees=_ONE_OAK, plots=plots, settings=_equations(_G)).volumes.volumes
    row = _of(found, "compartment", "B")
    assert (row["volume_m3_per_ha"], row["volume_m3_per_ha_se"], row["n_trees"]) == (0, 0, 0)


def test_compartments_without_plots_have_no_volume_and_are_left_out_of_the_total() -> None:
    found = _estimates(trees=_ONE_OAK, settings=_equations(_G))
    table = found.volumes.volumes
    assert _of(table, "compartment", "B")["status"] == "no plots"
    assert _of(table, "compartment", "B")["volume_m3_per_ha"] is None
    survey = _of(table, "survey", None)
    assert survey["volume_m3_per_ha"] == pytest.approx(
        found.survey_total["basal_area_m2_per_ha"][0], rel=1e-12
    )


def test_nothing_is_given_where_nothing_is_asked_for() -> None:
    found = _estimates(trees=_ONE_OAK).volumes
    assert (found.volumes.height, found.equations.height) == (0, 0)
