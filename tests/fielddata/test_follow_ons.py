"""What only follows from another finding is not told; what is wrong by itself is."""

from __future__ import annotations

from pathlib import Path

import pytest

from plotmap.fielddata import read_survey
from plotmap.model.findings import Findings
from plotmap.workflow import check
from tests.folder_example import FILES, as_csv, compartments_example, edited, folder_example, found, rows_of


def _check(folder: Path, **files: str) -> Findings:
    named = {f"{name}.csv": text for name, text in files.items() if name != "toml"}
    if "toml" in files:
        named["survey.toml"] = files["toml"]
    return check(read_survey(folder_example(folder, named)))


def _told(findings: Findings) -> set[tuple[str, int | None]]:
    return {(row["code"], row["row"]) for row in findings.frame.to_dicts()}


def test_a_date_that_cannot_be_read_is_not_missing_too(tmp_path: Path) -> None:
    text = edited("plots.csv", (2, "date", "14.05.2026"), (3, "date", ""))
    assert _told(_check(tmp_path, plots=text)) == {("date-unreadable", 2), ("plot-date-missing", 3)}


def test_a_radius_that_cannot_be_read_is_not_missing_too(tmp_path: Path) -> None:
    rows = rows_of(FILES["plots.csv"])
    sizes = ["radius_m", "12.62 x", "", *["12.62"] * 4]
    text = as_csv([[*cells, size] for cells, size in zip(rows, sizes, strict=True)])
    findings = _check(tmp_path, plots=text, toml='[plots]\ndesign = "circle"\n')
    assert _told(findings) == {("number-unreadable", 2), ("plot-without-size", 3)}


def test_an_unreadable_cell_of_another_column_hides_nothing(tmp_path: Path) -> None:
    text = edited("plots.csv", (2, "slope_pct", "steep"))
    findings = _check(tmp_path, plots=text, toml='[plots]\ndesign = "circle"\n')
    assert {("number-unreadable", 2), ("plot-without-size", 2)} <= _told(findings)


@pytest.mark.parametrize("cell", ["5OO", "?"])
def test_an_easting_that_cannot_be_read_is_not_missing_too(tmp_path: Path, cell: str) -> None:
    text = edited("plots.csv", (2, "easting", cell), (3, "easting", ""))
    assert _told(_check(tmp_path, plots=text)) == {("number-unreadable", 2), ("plot-without-position", 3)}


def test_own_headings_are_followed_too(tmp_path: Path) -> None:
    text = edited("plots.csv", (2, "date", "14.05.2026")).replace("date", "Tag", 1)
    toml = FILES["survey.toml"] + '[columns.plots]\n"Tag" = "date"\n'
    assert _told(_check(tmp_path, plots=text, toml=toml)) == {("date-unreadable", 2)}


def test_plots_without_any_column_of_positions_are_one_error(tmp_path: Path) -> None:
    text = FILES["plots.csv"].replace("easting,northing", "east_x,north_y", 1)
    findings = _check(tmp_path, plots=text)
    assert not found(findings, "plot-without-position")
    [error] = found(findings, "column-missing")
    assert error["message"] == (
        "there are no columns of positions: neither easting and northing nor lon and lat"
    )
    half = _check(tmp_path / "half", plots=FILES["plots.csv"].replace("northing", "nothing", 1))
    assert [row["message"].endswith(", only easting") for row in found(half, "column-missing")] == [True]


def test_stems_without_any_column_of_diameters_are_one_error(tmp_path: Path) -> None:
    text = FILES["trees.csv"].replace("d1_cm,d2_cm", "dbh_cm,second", 1)
    findings = _check(tmp_path, trees=text)
    assert not found(findings, "stem-without-diameter")
    assert len(found(findings, "column-missing")) == 1
    other = _check(tmp_path / "b", trees=edited("trees.csv", (2, "d1_cm", ""), (2, "d2_cm", "")))
    assert [row["row"] for row in found(other, "stem-without-diameter")] == [2]


def test_a_diameter_that_cannot_be_read_is_not_missing_too(tmp_path: Path) -> None:
    text = edited("trees.csv", (2, "d1_cm", "24 cm?"), (2, "d2_cm", ""))
    assert _told(_check(tmp_path, trees=text)) == {("number-unreadable", 2)}


def test_a_state_that_is_no_word_of_ours_is_no_plot_without_stems(tmp_path: Path) -> None:
    assert _told(_check(tmp_path, plots=edited("plots.csv", (7, "state", "none")))) == {("choice-unknown", 7)}
    assert ("plot-without-stems", 7) in _told(
        _check(tmp_path / "b", plots=edited("plots.csv", (7, "state", "measured")))
    )


@pytest.mark.parametrize("with_crs", [True, False])
def test_nothing_is_said_of_places_where_the_layer_has_no_crs(tmp_path: Path, *, with_crs: bool) -> None:
    frame = compartments_example()
    frame["geometry"] = frame.geometry.translate(yoff=100)
    frame.loc[0, "area_ha"] = 9.0
    toml = FILES["survey.toml"].replace('title = "Tiny"', 'title = "Tiny"\ncrs = "EPSG:32630"')
    toml += '[columns.compartments]\n"cpt" = "compartment"\n'
    folder = folder_example(tmp_path, {"survey.toml": toml}, with_compartments=False)
    frame.rename(columns={"compartment": "cpt"}).to_file(folder / "compartments.shp")
    if not with_crs:
        (folder / "compartments.prj").unlink()
    codes = check(read_survey(folder)).codes
    places = {"plot-outside", "compartment-area-differs"}
    assert codes & places == (places if with_crs else set())
    assert ("compartments-without-crs" in codes) is not with_crs


def test_most_plots_elsewhere_is_told_once(tmp_path: Path) -> None:
    swapped = FILES["plots.csv"].replace("easting,northing", "northing,easting", 1)
    findings = _check(tmp_path, plots=swapped)
    assert "plots-elsewhere" in findings.codes
    assert "no-plots-left" not in findings.codes


def test_a_line_with_cells_too_many_is_one_finding(tmp_path: Path) -> None:
    rows = FILES["trees.csv"].splitlines()
    rows[1] = rows[1].replace("23.5", "23,5").replace("24.1", "24,1")
    rows[2] = rows[2].replace(",K1,", ",K1,high").replace("25.0", "9999")
    told = _told(_check(tmp_path, trees="\n".join(rows) + "\n"))
    assert {row for row in told if row[1] == 2} == {("line-too-long", 2)}
    assert {code for code, row in told if row == 3} >= {"number-unreadable", "value-out-of-range"}


def test_without_the_column_of_compartments_no_compartment_of_a_crew_is_unknown(tmp_path: Path) -> None:
    layer = compartments_example().rename(columns={"compartment": "id"})
    findings = check(read_survey(folder_example(tmp_path, compartments=layer)))
    assert found(findings, "column-missing")[0]["column"] == "compartment"
    assert found(findings, "column-near-miss")[0]["value"] == "compartment"
    assert not found(findings, "plot-compartment-unknown")
    text = edited("plots.csv", (2, "compartment", "Z"))
    assert found(_check(tmp_path / "other", plots=text), "plot-compartment-unknown")
