"""From a survey folder to the figures: the same stand written down otherwise gives the same figures."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

import plotmap
from plotmap.model.survey import Stand
from tests.longleaf_survey import CRS, GRID_CENTRES, longleaf_survey

_FIGURES = [
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "stems_per_ha_se",
    "basal_area_m2_per_ha_se",
    "dg_cm",
    "area_ha",
]


def _compiled(folder: Path) -> Stand:
    """Read and compute a survey folder."""
    return plotmap.compile_survey(plotmap.read_survey(folder))


def _figures(stand: Stand) -> np.ndarray:
    """Return the figures of the compartments in the order of their names."""
    return stand.compartments.sort_values("compartment")[_FIGURES].to_numpy(dtype=float)


def _moved(folder: Path, crs: str) -> Path:
    """Bring a survey into another reference system: layer, plots and settings."""
    layer = gpd.read_file(folder / "compartments.gpkg").to_crs(crs)
    (folder / "compartments.gpkg").unlink()
    layer.to_file(folder / "compartments.gpkg", layer="compartments")
    plots = pd.read_csv(folder / "plots.csv", dtype={"plot": str})
    points = gpd.GeoSeries(gpd.points_from_xy(plots["easting"], plots["northing"]), crs=CRS).to_crs(crs)
    plots.assign(easting=points.x, northing=points.y).to_csv(folder / "plots.csv", index=False)
    text = (folder / "survey.toml").read_text().replace(CRS, crs)
    (folder / "survey.toml").write_text(text)
    return folder


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:32618"])
def test_the_next_utm_zone_gives_the_same_figures(tmp_path: Path, crs: str) -> None:
    own = _compiled(longleaf_survey(tmp_path / "own", centres=GRID_CENTRES))
    moved = _compiled(_moved(longleaf_survey(tmp_path / "moved", centres=GRID_CENTRES), crs))
    np.testing.assert_allclose(_figures(moved), _figures(own), rtol=1e-6)


def _in_minutes(value: float, sides: str) -> str:
    """Write degrees as degrees and minutes with a letter, to a millimetre."""
    degrees, minutes = divmod(round(abs(value) * 60, 7), 60)
    return f"{degrees:.0f}°{minutes:.7f}'{sides[value < 0]}"


@pytest.mark.parametrize("way", ["decimal degrees", "minutes", "waypoints"])
def test_positions_written_in_another_way_give_the_same_figures(tmp_path: Path, way: str) -> None:
    own = _compiled(longleaf_survey(tmp_path / "own", centres=GRID_CENTRES))
    folder = longleaf_survey(tmp_path / "other", centres=GRID_CENTRES)
    plots = pd.read_csv(folder / "plots.csv", dtype={"plot": str})
    points = gpd.GeoSeries(gpd.points_from_xy(plots["easting"], plots["northing"]), crs=CRS)
    rest, degrees = plots.drop(columns=["easting", "northing"]), points.to_crs("EPSG:4326")
    if way == "decimal degrees":
        rest = rest.assign(lon=degrees.x.map("{:.9f}".format), lat=degrees.y.map("{:.9f}".format))
    elif way == "minutes":
        rest = rest.assign(
            lon=[_in_minutes(x, "EW") for x in degrees.x], lat=[_in_minutes(y, "NS") for y in degrees.y]
        )
    else:
        frame = gpd.GeoDataFrame({"name": plots["plot"]}, geometry=degrees)
        frame.to_file(folder / "plots.gpx", driver="GPX", layer="waypoints")
    rest.to_csv(folder / "plots.csv", index=False)
    other = _compiled(folder)
    np.testing.assert_allclose(_figures(other), _figures(own), rtol=1e-9)
    assert other.plots.geometry.distance(own.plots.geometry, align=False).max() < 0.002


def test_the_part_of_a_circle_inside_moves_by_less_than_the_scale_of_the_next_zone(tmp_path: Path) -> None:
    """At 3° from its central meridian the scale of UTM is 1.0010 at this latitude, 1.0016 at 4°; from memory."""
    centres = [(20.0, 20.0), (92.0, 30.0), (150.0, 190.0), (110.0, 150.0)]
    own = _compiled(longleaf_survey(tmp_path / "own", centres=centres, edge="inside"))
    moved = _compiled(
        _moved(longleaf_survey(tmp_path / "moved", centres=centres, edge="inside"), "EPSG:32618")
    )
    assert (own.plots["share_inside"] < 0.999).any()
    np.testing.assert_allclose(moved.plots["share_inside"], own.plots["share_inside"], rtol=0.01)


def test_inches_millimetres_and_girths_of_the_same_stems_give_the_same_figures(tmp_path: Path) -> None:
    figures = []
    for heading, factor in (
        ("d1_cm", 1.0),
        ("d1_mm", 10.0),
        ("d1_in", 1 / 2.54),
        ("girth_cm", np.pi),
        ("girth_in", np.pi / 2.54),
    ):
        folder = longleaf_survey(tmp_path / heading, centres=GRID_CENTRES)
        trees = pd.read_csv(folder / "trees.csv", dtype={"plot": str})
        written = trees.rename(columns={"d1_cm": heading}).assign(**{heading: trees["d1_cm"] * factor})
        written.to_csv(folder / "trees.csv", index=False)
        figures.append(_figures(_compiled(folder)))
    for other in figures[1:]:
        np.testing.assert_allclose(other, figures[0], rtol=1e-9)


def test_plots_cut_in_two_halves_give_the_same_means(tmp_path: Path) -> None:
    whole = _compiled(longleaf_survey(tmp_path / "whole", centres=GRID_CENTRES))
    folder = longleaf_survey(tmp_path / "halves", centres=GRID_CENTRES)
    plots = pd.read_csv(folder / "plots.csv", dtype={"plot": str})
    trees = pd.read_csv(folder / "trees.csv", dtype={"plot": str})
    east = np.where(trees["azimuth_deg"] < 180, "E", "W")
    trees.assign(plot=trees["plot"] + east).to_csv(folder / "trees.csv", index=False)
    halves = pd.concat([plots.assign(plot=plots["plot"] + side) for side in "EW"])
    halves["area_m2"] = 500.0
    halves["state"] = np.where(halves["plot"].isin(trees["plot"] + east), "measured", "empty")
    halves.to_csv(folder / "plots.csv", index=False)
    cut = _compiled(folder)
    for name in ("stems_per_ha", "basal_area_m2_per_ha", "dg_cm"):
        np.testing.assert_allclose(cut.compartments[name], whole.compartments[name], rtol=1e-6)
    assert (cut.compartments["n_plots"] == 2 * whole.compartments["n_plots"]).all()


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:32618"])
def test_azimuths_from_true_north_put_stems_on_the_same_ground_in_every_zone(
    tmp_path: Path, crs: str
) -> None:
    """Meridian convergence: true north is the same in every zone, grid north is not (geometry).

    The stand lies on its central meridian, 6° from those of the next zones: their grids are turned there by
    6° sin 30.7° = 3.1°, almost a metre at the edge of the circle, and 0.4 % longer (0.9996 (1 + (6° cos 30.7°)² / 2)
    over 0.9996), which is left out: 7 cm there.
    """
    rules = {"plots": {"azimuth": "true", "edge": "positions"}}
    centres = [(93.0, 95.0), (98.0, 60.0)]  # no pine there is nearer to a boundary than 0.5 m
    own = _compiled(longleaf_survey(tmp_path / "own", centres=centres, settings=rules))
    moved = _compiled(_moved(longleaf_survey(tmp_path / "moved", centres=centres, settings=rules), crs))
    places = [
        gpd.GeoSeries(
            gpd.points_from_xy(stand.trees["easting"], stand.trees["northing"]), crs=stand.crs
        ).to_crs(CRS)
        for stand in (own, moved)
    ]
    assert len(places[0]) == len(places[1]) > 15
    assert (places[0].distance(places[1], align=False) < 0.0045 * 17.84124).all()
    np.testing.assert_allclose(_figures(moved)[:, :2], _figures(own)[:, :2], rtol=0.02)
