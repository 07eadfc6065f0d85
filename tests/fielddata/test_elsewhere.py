"""Plots that lie elsewhere: the cure is proposed, never applied. Places by pyproj, the rest by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from pyproj import Transformer

from plotmap.fielddata import read_survey
from plotmap.model.survey import Survey
from tests.folder_example import (
    CRS,
    FILES,
    as_csv,
    folder_example,
    found,
    rows_of,
    settings_text,
    the_finding,
)

_ROWS = rows_of(FILES["plots.csv"])
_METRES = [(float(row[1]), float(row[2])) for row in _ROWS[1:]]
_DEGREES = [Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(*place) for place in _METRES]


def _survey(
    folder: Path, names: tuple[str, str], places: list[tuple[str, str]], toml: str = FILES["survey.toml"]
) -> Survey:
    """Read the example with its plots at other places."""
    rest = [[row[0], *row[3:]] for row in _ROWS]
    heads = [list(names), *map(list, places)]
    text = as_csv([[*row, *place] for row, place in zip(rest, heads[: len(places) + 1], strict=False)])
    return read_survey(folder_example(folder, {"plots.csv": text, "survey.toml": toml}))


def _shown(places: list[tuple[float, float]], decimals: int = 7) -> list[tuple[str, str]]:
    return [(f"{x:.{decimals}f}", f"{y:.{decimals}f}") for x, y in places]


def _dms(value: float) -> str:
    """Type degrees, minutes and seconds as if they were decimals: 22°45'30.12" as 22.453012."""
    seconds = round(abs(value) * 3600, 2)
    degrees, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    digits = f"{seconds:05.2f}".replace(".", "")
    return f"{'-' if value < 0 else ''}{int(degrees)}.{int(minutes):02d}{digits}"


def _zone(code: str) -> list[tuple[str, str]]:
    move = Transformer.from_crs("EPSG:4326", code, always_xy=True)
    return _shown([move.transform(*place) for place in _DEGREES], 2)


_LONLAT, _GRID = ("lon", "lat"), ("easting", "northing")


@pytest.mark.parametrize(
    ("names", "places", "words"),
    [
        (_LONLAT, _shown([(y, x) for x, y in _DEGREES]), "lon and lat are exchanged"),
        (_LONLAT, _shown([(-x, y) for x, y in _DEGREES]), "lon is west"),
        (_LONLAT, _shown([(x, -y) for x, y in _DEGREES]), "lat is south"),
        (
            _LONLAT,
            [(_dms(x), _dms(y)) for x, y in _DEGREES],
            "lon and lat are degrees, minutes and seconds typed as decimals",
        ),
        (_GRID, _shown([(y, x) for x, y in _METRES], 2), "easting and northing are exchanged"),
        (_GRID, _zone("EPSG:32629"), "they are in EPSG:32629 (UTM zone 29)"),
        (_GRID, _zone("EPSG:32631"), "they are in EPSG:32631 (UTM zone 31)"),
        (_GRID, _zone("EPSG:32730"), "northing is counted from the other side of the equator"),
        (_GRID, _shown(_DEGREES), "easting and northing are lon and lat in degrees"),
        (_GRID, _shown([(y, x) for x, y in _DEGREES]), "easting and northing are lat and lon in degrees"),
    ],
)
def test_what_would_bring_the_plots_in_is_proposed(
    tmp_path: Path, names: tuple[str, str], places: list[tuple[str, str]], words: str
) -> None:
    survey = _survey(tmp_path, names, places)
    error = the_finding(survey, "plots-elsewhere")
    assert (error["severity"], error["file"], error["row"]) == ("error", "plots.csv", None)
    start = "all 6 plots lie outside all compartments; all 6 plots fall into compartments if "
    assert error["message"].startswith(start + words)
    assert survey.plots["located_in"].isna().all()


def test_plots_that_nothing_brings_in_are_an_error_from_three_on(tmp_path: Path) -> None:
    far = [(str(x), str(y + 90_000)) for x, y in _METRES]
    error = the_finding(_survey(tmp_path / "six", _GRID, far), "plots-elsewhere")
    assert error["message"] == "all 6 plots lie outside all compartments"
    assert len(found(_survey(tmp_path / "three", _GRID, far[:3]), "plots-elsewhere")) == 1
    two = _survey(tmp_path / "two", _GRID, far[:2])
    assert "plots-elsewhere" not in two.findings.codes
    said = [row["message"] for row in found(two, "plot-outside")]
    assert (
        said
        == [  # 5 690 050 and 5 690 150 less the layer's edge at 5 600 200 m: 89.85 and 89.95 km
            "the plot lies outside all compartments, 90 km from A; it is set aside"
        ]
        * 2
    )


@pytest.mark.parametrize(("outside", "told"), [(3, False), (4, True)])
def test_half_of_the_plots_may_lie_outside(tmp_path: Path, outside: int, *, told: bool) -> None:
    places = [(str(x), str(y + 400 * (i < outside))) for i, (x, y) in enumerate(_METRES)]
    survey = _survey(tmp_path, _GRID, places)
    assert ("plots-elsewhere" in survey.findings.codes) is told
    assert len(found(survey, "plot-outside")) == outside


def test_few_decimals_are_told_as_a_reason(tmp_path: Path) -> None:
    """A hundredth of a degree is 1.1 km; the compartments are 600 m × 200 m."""
    places = _shown([(x + 0.01, y + 0.004) for x, y in _DEGREES], 2)
    error = the_finding(_survey(tmp_path, _LONLAT, places), "plots-elsewhere")
    assert "; lon and lat have 2 decimals, which is 1,113 m on the ground" in error["message"]


@pytest.mark.parametrize(("edge", "told"), [("whole", False), ("inside", True)])
def test_positions_that_nothing_computes_with_stop_no_run(tmp_path: Path, edge: str, *, told: bool) -> None:
    plots = f'design = "circle"\nradius_m = 12.62\nassign = "recorded"\nedge = "{edge}"'
    swapped = _shown([(y, x) for x, y in _METRES], 2)
    survey = _survey(tmp_path, _GRID, swapped, settings_text(plots=plots))
    assert ("plots-elsewhere" in survey.findings.codes) is told
