from __future__ import annotations

import json
from dataclasses import replace

import geopandas as gpd
import pandas as pd
import pytest

from plotmap.model.finding_rules import RULES
from plotmap.model.findings import Findings, finding
from plotmap.output.webmap.notes import dates, placed_findings
from plotmap.output.webmap.payload import payload
from tests.stand_example import stand_example

PLOTS = pd.Series(["P001", "P002", "P003"])
COMPARTMENTS = pd.Series(["01", None, "03"])


def test_a_compartment_has_the_days_of_its_first_and_last_plot() -> None:
    stand = stand_example()
    plots = gpd.GeoDataFrame(stand.plots.copy())
    plots["date"] = pd.to_datetime(["2026-05-01", "2026-05-03", "2026-05-09", "2026-05-04"] + [None] * 11)
    plots.loc[plots.index[3], "geometry"] = None
    found = dates(replace(stand, plots=plots))
    assert found["words"] == ["2026-05-03", "2026-05-04", "2026-05-09"]  # the unvisited plot tells no day
    assert found["first"] == [0, 1, *[-1] * 7]
    assert found["last"] == [0, 2, *[-1] * 7]
    assert (found["survey_first"], found["survey_last"]) == (0, 2)


def test_a_survey_without_days_has_none() -> None:
    stand = stand_example()
    plots = gpd.GeoDataFrame(stand.plots.assign(date=None))
    found = dates(replace(stand, plots=plots))
    assert found["words"] == []
    assert set(found["first"] + found["last"]) == {-1}
    assert found["survey_first"] == -1


def test_findings_go_to_their_plot_else_to_their_compartment_else_they_are_counted() -> None:
    found = Findings.join(
        [
            finding("plot-without-stems", "plots.csv", "of a plot", plot="P002", compartment="01"),
            finding("compartment-area-differs", "c.gpkg", "of a compartment", compartment="03"),
            finding(
                "plot-without-stems",
                "plots.csv",
                "of a plot without a position",
                plot="P009",
                compartment="01",
            ),
            finding("compartment-area-differs", "c.gpkg", "of one without outline", compartment="02"),
            finding("column-unknown", "trees.csv", "of a file"),
        ]
    )
    shown = placed_findings(replace(stand_example(), findings=found), PLOTS, COMPARTMENTS)
    told = {shown["message"][row]: (shown["plot"][row], shown["compartment"][row]) for row in range(3)}
    assert told == {
        "of a plot": (1, -1),
        "of a compartment": (-1, 2),
        "of a plot without a position": (-1, 0),
    }
    assert shown["without_place"] == 2
    codes = [shown["codes"][code] for code in shown["code"]]
    assert sorted(codes) == ["compartment-area-differs", "plot-without-stems", "plot-without-stems"]
    assert shown["severities"] == [RULES[code].severity.value for code in shown["codes"]]


@pytest.mark.parametrize("crew", ["Ada Invented", "A"])
def test_a_message_that_names_a_crew_gives_way_to_the_title_of_its_rule(crew: str) -> None:
    stand = stand_example()
    plots = stand.plots.assign(crew=crew)
    found = finding(
        "check-bias", "check_trees.csv", f"{crew}: reads 4 mm too high", plot="P003", hint=f"Ask {crew}."
    )
    shown = placed_findings(replace(stand, plots=plots, findings=found), PLOTS, COMPARTMENTS)
    assert shown["message"] == [None]
    assert shown["hint"] == [RULES["check-bias"].hint]
    assert shown["titles"] == [RULES["check-bias"].title]
    assert crew not in json.dumps(payload(replace(stand, plots=plots, findings=found))["findings"]["message"])
    other = finding("check-bias", "check_trees.csv", "reads 4 mm too high", plot="P003")
    shown = placed_findings(replace(stand, plots=plots, findings=other), PLOTS, COMPARTMENTS)
    assert shown["message"] == ["reads 4 mm too high"]
