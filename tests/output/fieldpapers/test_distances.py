"""Tables of distances on paper and as CSV."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import polars as pl
import pytest

from plotmap.errors import OutputError
from plotmap.output.fieldpapers import write_distance_csv, write_distances
from plotmap.plots.distances import distance_frame, distance_tables
from tests.output.paper.pdf_pages import n_pages, size_mm, words
from tests.survey_example import survey_example


def written(path: Path, up_to_cm: float = 80.0, **plots: Any) -> bytes:
    survey = survey_example(settings={"plots": plots, "survey": {"title": "Höhenwald"}})
    write_distances(distance_tables(survey, up_to_cm), path / "d.pdf", survey.settings)
    return (path / "d.pdf").read_bytes()


def test_an_angle_count_is_one_page_to_fold(tmp_path: Path) -> None:
    content = written(tmp_path, design="angle-count", baf_m2_per_ha=4)
    assert n_pages(content) == 1
    assert size_mm(content) == pytest.approx((297, 210), abs=0.01)
    said = words(content)
    assert "Höhenwald" in said
    lines = [line.split() for line in said.splitlines()]
    # 40 cm: level 10.00 m (0.25 m per cm), face 9.80; 1/cos of 10 to 60 % (geometry)
    flat = " ".join(said.split())
    assert "40 10.00 9.80 10.05 10.20 10.44 10.77 11.18 11.66" in flat, lines
    assert "0.25 m for each cm" in flat


def test_a_long_table_goes_on_on_further_pages(tmp_path: Path) -> None:
    content = written(tmp_path, up_to_cm=200.0, design="angle-count", baf_m2_per_ha=4)
    assert n_pages(content) == 2
    assert "200 50.00 49.00" in " ".join(words(content, 1).split())


def test_rings_are_said_with_their_diameters_and_radii(tmp_path: Path) -> None:
    nests = [{"radius_m": 7.98, "min_dbh_cm": 12}, {"radius_m": 12.62, "min_dbh_cm": 36}]
    flat = " ".join(words(written(tmp_path, design="nested", nests=nests)).split())
    assert "Ring 7.98 m, dbh 12 to under 36 cm" in flat
    assert "Ring 12.62 m, dbh 36 cm and more" in flat
    assert "30 13.18 12.89" in flat  # 12.62 · 1.044031, and its root: 12.62 · 1.021778


def test_along_the_ground_the_stated_radius_is_kept_and_said(tmp_path: Path) -> None:
    flat = " ".join(words(written(tmp_path, design="circle", radius_m=10, slope="ground")).split())
    assert "Never use a lengthened radius" in flat
    assert "75 10.00 251.3" in flat  # π · 100 · 0.8


def test_the_same_tables_give_the_same_bytes(tmp_path: Path) -> None:
    plots = {"design": "angle-count", "baf_m2_per_ha": 2}
    assert written(tmp_path, **plots) == written(tmp_path, **plots)


def test_the_csv_holds_distances_to_the_millimetre_and_is_replaced(tmp_path: Path) -> None:
    survey = survey_example(settings={"plots": {"design": "angle-count", "baf_m2_per_ha": 2}})
    frame = distance_frame(distance_tables(survey, 80.0))
    for _ in range(2):
        write_distance_csv(frame, tmp_path / "d.csv")
    read = pl.read_csv(tmp_path / "d.csv")
    assert read.filter((pl.col("dbh_cm") == 30) & (pl.col("slope_pct") == 0))["level_m"].item() == 10.607
    (tmp_path / "own.csv").write_text("plot,tree\n")
    with pytest.raises(OutputError, match="this file is there and holds something else"):
        write_distance_csv(frame, tmp_path / "own.csv")
