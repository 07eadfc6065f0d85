from __future__ import annotations

from dataclasses import replace

import polars as pl

from plotmap.model.survey import Stand
from plotmap.output.webmap.species import species_shares
from tests.stand_example import stand_example

EDGES = (0, 10, 25, 50, 75)


def with_species(stand: Stand, species: str) -> Stand:
    """Return the stand with a species named for the map."""
    chosen = stand.settings.map.model_copy(update={"species": species})
    return replace(stand, settings=stand.settings.model_copy(update={"map": chosen}))


def test_shares_are_those_of_the_table() -> None:
    stand = stand_example()
    found = species_shares(stand, EDGES)
    names = stand.compartments["compartment"].tolist()
    table = {
        (row["compartment"], row["species"]): row["basal_area_share_pct"]
        for row in stand.species_totals.rows(named=True)
    }
    assert len(found["species"]) == stand.species_totals.height
    for home, species, share in zip(
        found["compartment"], found["species"], found["basal_area_share_pct"], strict=True
    ):
        exact = table[names[home], found["words"][species]]
        assert abs(share - exact) <= 0.5
        assert [share >= edge for edge in EDGES] == [exact >= edge for edge in EDGES]


def test_the_species_with_the_most_basal_area_comes_first_unless_another_is_named() -> None:
    stand = stand_example()
    doubled = stand.species_totals.with_columns(
        pl.when(pl.col("species") == "ash").then(100.0).otherwise(1.0).alias("basal_area_m2_per_ha")
    )
    stand = replace(stand, species_totals=doubled)
    found = species_shares(stand, EDGES)
    assert found["words"] == ["ash", "oak <b>"]
    assert found["first"] == 0
    assert species_shares(with_species(stand, "oak <b>"), EDGES)["first"] == 1
    assert species_shares(with_species(stand, "nowhere"), EDGES)["first"] == 0


def test_a_share_that_is_missing_stays_so() -> None:
    stand = stand_example()
    without = stand.species_totals.with_columns(pl.lit(None, pl.Float64).alias("basal_area_share_pct"))
    found = species_shares(replace(stand, species_totals=without), EDGES)
    assert set(found["basal_area_share_pct"]) == {None}
