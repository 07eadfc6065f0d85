from __future__ import annotations

import json
from dataclasses import replace

import geopandas as gpd
import numpy as np
import polars as pl
import pytest

from plotmap.model.class_rule import ClassEdge, ClassMeasure
from plotmap.model.result_tables import CLASS_TOTAL_RESULTS
from plotmap.output.webmap.payload import payload
from tests.stand_example import stand_example


def test_figures_are_those_of_the_tables_as_rounded() -> None:
    stand = stand_example()
    content = payload(stand)
    table = content["compartments"]
    exact = stand.compartments["basal_area_m2_per_ha"].to_numpy()
    shown = np.array([np.nan if cell is None else cell for cell in table["basal_area_m2_per_ha"]])
    assert np.nanmax(np.abs(shown - exact)) <= 0.05
    assert table["compartment"] == stand.compartments["compartment"].tolist()
    assert table["basal_area_m2_per_ha"][-1] is None
    assert table["basal_area_m2_per_ha_above"][-2] is None
    total = stand.survey_total.iloc[0]
    assert content["total"]["stems_total"][0] == pytest.approx(total["stems_total"], abs=0.5)


def test_nothing_that_is_missing_is_written_as_a_number() -> None:
    text = json.dumps(payload(stand_example()), allow_nan=False, default=np.ndarray.tolist)
    assert "NaN" not in text
    assert "Infinity" not in text


def test_crews_stay_at_home() -> None:
    stand = stand_example()
    plots = stand.plots.copy()
    plots["crew"] = "Invented Person"
    assert "Invented Person" not in json.dumps(
        payload(replace(stand, plots=plots)), default=np.ndarray.tolist
    )


def test_plots_point_at_their_compartment_and_those_without_a_position_are_counted() -> None:
    stand = stand_example()
    plots = gpd.GeoDataFrame(stand.plots.copy())
    plots.loc[plots.index[3], "geometry"] = None
    plots.loc[plots.index[4], "compartment"] = None
    found = payload(replace(stand, plots=plots))["plots"]
    assert found["without_position"] == 1
    assert len(found["plot"]) == len(found["lon"]) == len(plots) - 1
    homes = dict(zip(found["plot"], found["compartment"], strict=True))
    assert homes["P005"] == -1
    names = stand.compartments["compartment"].tolist()
    assert names[homes["P001"]] == stand.plots.loc[stand.plots["plot"] == "P001", "compartment"].item()


def test_an_empty_class_between_two_others_keeps_its_place() -> None:
    stand = stand_example()
    without = stand.class_totals.filter(pl.col("class") != "15–<20")
    found = payload(replace(stand, class_totals=without))["size_classes"]
    assert found["labels"] == ["10–<15", "15–<20", "20–<25", "25–<30"]
    assert sorted(set(found["class"])) == [0, 2, 3]


def test_open_classes_of_stated_edges_come_first_and_last() -> None:
    stand = stand_example()
    classes = stand.settings.classes.model_copy(update={"edges_cm": (10.0, 20.0, 30.0)})
    settings = stand.settings.model_copy(update={"classes": classes})
    rows = stand.class_totals.head(3).with_columns(
        pl.Series("class", ["<10", "20–<30", "≥30"]),
        pl.Series("low_cm", [None, 20.0, 30.0]),
        pl.Series("high_cm", [10.0, 30.0, None]),
    )
    found = payload(replace(stand, settings=settings, class_totals=rows))["size_classes"]
    assert found["labels"] == ["<10", "10–<20", "20–<30", "≥30"]
    assert found["short_labels"] == ["<10", "10", "20", "30"]
    assert found["class"] == [0, 2, 3]


def test_short_labels_name_the_edge_that_belongs_to_the_class() -> None:
    stand = stand_example()
    classes = stand.settings.classes.model_copy(update={"edge": ClassEdge.UPPER, "on": ClassMeasure.GIRTH})
    settings = stand.settings.model_copy(update={"classes": classes})
    upper = stand.class_totals.with_columns(
        pl.format(">{}–{}", pl.col("low_cm").cast(pl.Int64), pl.col("high_cm").cast(pl.Int64)).alias("class")
    )
    content = payload(replace(stand, settings=settings, class_totals=upper))
    assert content["size_classes"]["short_labels"] == ["15", "20", "25", "30"]
    assert (content["survey"]["class_edge"], content["survey"]["class_measure"]) == ("upper", "girth")


def test_a_figure_just_below_a_class_edge_does_not_contradict_its_class() -> None:
    stand = stand_example()
    compartments = stand.compartments.copy()
    compartments["sampling_error_pct"] = [12.0, 49.87, 50.0, 90.0, 30.0, 30.0, 30.0, np.nan, np.nan]
    content = payload(replace(stand, compartments=compartments))
    assert content["compartments"]["sampling_error_pct"][:4] == [12, 49.9, 50, 90]
    theme = next(theme for theme in content["themes"] if theme["column"] == "sampling_error_pct")
    assert [theme["labels"][number] for number in theme["classes"][1:3]] == ["40–<50", "≥50"]
    assert content["hatches"][1:3] == [0, 2]


def test_a_survey_without_any_stem_has_no_classes_and_no_species() -> None:
    stand = stand_example()
    schema = {column.name: stand.class_totals.schema[column.name] for column in CLASS_TOTAL_RESULTS.columns}
    content = payload(
        replace(stand, class_totals=pl.DataFrame(schema=schema), species_totals=stand.species_totals.clear())
    )
    assert content["size_classes"]["labels"] == []
    assert content["species"]["words"] == []
