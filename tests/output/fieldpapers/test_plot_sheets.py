"""Field sheets: what stands on the page of a plot."""

from __future__ import annotations

import tracemalloc
from pathlib import Path
from typing import Any

from plotmap.model.field_papers import COLOURS
from plotmap.output.fieldpapers import FieldSheets, write_field_sheets
from plotmap.plots.sheet_rows import sheet_rows
from plotmap.stems.painted import band_marks
from tests.output.paper.pdf_pages import has_colour, n_pages, words
from tests.survey_example import survey_example


def sheets(path: Path, settings: dict[str, Any] | None = None, **plots: list[Any]) -> bytes:
    rows = {"plot": ["P1"], **plots}
    survey = survey_example(plots=rows, settings={"survey": {"title": "Бор – Πεύκη"}, **(settings or {})})
    made = FieldSheets(
        sheet_rows(survey), band_marks(survey.settings, 80.0), ("oak", "Žltá"), survey.crs, {"A": "Ash Bank"}
    )
    write_field_sheets(made, path / "s.pdf", survey.settings)
    return (path / "s.pdf").read_bytes()


def said(content: bytes, page: int = 0) -> str:
    return " ".join(words(content, page).replace("\u202f", "").split())


def test_a_sheet_says_where_the_plot_is(tmp_path: Path) -> None:
    text = said(sheets(tmp_path, easting=[499_900.04], northing=[5_600_100.0]))
    assert "Plot P1" in text
    assert "Compartment A Ash Bank" in text
    assert "E 499900.0 N 5600100.0 m" in text
    assert "° N" in text
    assert "° W (WGS 84)" in text  # 100 m west of the central meridian, 3° W
    assert "UTM zone 30N; datum: World Geodetic System 1984" in text
    assert "Бор – Πεύκη" in text
    assert "Žltá" in text


def test_a_known_slope_has_its_radius_and_an_unknown_one_several(tmp_path: Path) -> None:
    known = said(sheets(tmp_path, slope_pct=[30.0]))
    assert (
        "slope 30 % r 12.62: along slope 13.18 r 12.62: same area 12.89" in known
    )  # · 1.044031, and its root
    unknown = said(sheets(tmp_path))
    assert "0 % 10 % 20 % 30 % 40 % 50 % 60 %" in unknown
    assert "12.62 12.68 12.87 13.18 13.59 14.11 14.72" in unknown


def test_along_the_ground_no_other_radius_is_given(tmp_path: Path) -> None:
    ground = {"plots": {"design": "circle", "radius_m": 12.62, "slope": "ground"}}
    text = said(sheets(tmp_path, ground, slope_pct=[30.0]))
    assert "lengths as stated on every slope" in text
    assert "13.18" not in text


def test_an_angle_count_has_its_factor_and_rings_their_diameters(tmp_path: Path) -> None:
    angle = {"plots": {"design": "angle-count", "baf_m2_per_ha": 4}}
    text = said(sheets(tmp_path, angle, slope_pct=[50.0]))
    assert "factor 4 m²/ha: limit 0.2500 m per cm dbh" in text
    assert "longer by × 1.1180" in text  # 1/cos at 50 %
    nests = [{"radius_m": 7.98, "min_dbh_cm": 12}, {"radius_m": 12.62, "min_dbh_cm": 36}]
    assert "r 7.98, ≥ 12 cm" in said(sheets(tmp_path, {"plots": {"design": "nested", "nests": nests}}))


def test_a_plot_at_a_boundary_says_what_to_do_there(tmp_path: Path) -> None:
    inside = {"plots": {"design": "circle", "radius_m": 12.62, "edge": "inside"}}
    place = {"easting": [499_990.0], "northing": [5_600_100.0]}
    text = said(sheets(tmp_path, inside, **place))
    assert (
        "Only 10.0 m from the centre: the plot crosses it. Beyond lies B. Measure only stems inside" in text
    )
    place["easting"] = [499_900.0]
    assert "100.0 m away: the plot lies wholly inside" in said(sheets(tmp_path, inside, **place))


def test_blanks_for_state_instrument_crew_and_stems_are_there(tmp_path: Path) -> None:
    text = said(sheets(tmp_path))
    for part in ("no trees on this plot", "not visited, why:", "Closed it reads, mm", "Crew", "girth cm", "az °",
                 "Do not measure where it is not safe", "10–<15"):  # fmt: skip
        assert part in text
    assert has_colour(sheets(tmp_path), COLOURS[0])


def test_every_plot_has_a_page_and_the_bytes_are_the_same(tmp_path: Path) -> None:
    plots = {"plot": [f"P{n}" for n in range(1, 8)]}
    content = sheets(tmp_path, **plots)
    assert n_pages(content) == 7
    assert "Plot P7" in words(content, 6)
    assert "page 7 of 7" in said(content, 6)
    assert sheets(tmp_path, **plots) == content


def test_memory_grows_little_with_the_plots(tmp_path: Path) -> None:
    """A further page takes a few kilobytes, since what all pages share is kept once."""
    sizes = []
    for count in (20, 220):
        tracemalloc.start()
        content = sheets(tmp_path, plot=[f"P{n}" for n in range(count)])
        sizes.append((len(content), tracemalloc.get_traced_memory()[1]))
        tracemalloc.stop()
    assert (sizes[1][0] - sizes[0][0]) / 200 < 6_000
    assert (sizes[1][1] - sizes[0][1]) / 200 < 60_000
