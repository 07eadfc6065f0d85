"""Reference systems: what is refused, and that coordinates go where they should."""

import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
from pyproj.aoi import AreaOfInterest
from pyproj.database import query_utm_crs_info
from pyproj.network import is_network_enabled, set_network_enabled

from plotmap.spatial import (
    BallparkTransformError,
    is_metric,
    transform_geometries,
    transform_points,
    true_north_deg,
    utm_zone,
)

WGS84, UTM30 = pyproj.CRS(4326), pyproj.CRS(32630)
SPHERE_MERCATOR = "+proj=merc +a=6378137 +b=6378137 +lat_ts=0 +lon_0=0 +units=m +nadgrids=@null +no_defs"


@pytest.mark.parametrize("code", ["EPSG:32630", "EPSG:27700", "EPSG:7405", "EPSG:27572", "EPSG:24344"])
def test_projected_systems_in_metres_are_metric(code) -> None:
    assert is_metric(pyproj.CRS(code))


@pytest.mark.parametrize(
    "code",
    [
        "EPSG:4326",
        "EPSG:4978",
        "EPSG:2263",
        "EPSG:3857",
        "ESRI:102100",
        "ESRI:102113",
        "EPSG:3785",
        SPHERE_MERCATOR,
    ],
)
def test_degrees_feet_and_web_mercator_are_not_metric(code) -> None:
    assert not is_metric(pyproj.CRS(code))


def test_a_system_with_its_own_datum_shift_is_judged_by_what_it_shifts() -> None:
    assert is_metric(pyproj.CRS("+proj=utm +zone=44 +ellps=evrst30 +towgs84=295,736,257 +units=m"))
    assert not is_metric(pyproj.CRS("+proj=longlat +ellps=evrst30 +towgs84=295,736,257"))


@pytest.mark.parametrize(
    ("lon", "lat"),
    [(-2.5, 54.0), (82.1, 22.75), (151.2, -33.9), (-71.0, 0.1), (-177.1, 52.0), (178.4, -18.1)],
)
def test_utm_zones_are_those_of_the_epsg_register(lon, lat) -> None:
    """EPSG register, by pyproj's query of the systems used at a place."""
    place = AreaOfInterest(lon, lat, lon, lat)
    codes = {found.code for found in query_utm_crs_info(datum_name="WGS 84", area_of_interest=place)}
    assert codes == {utm_zone(lon, lat).to_authority()[1]}


def test_the_ends_of_the_utm_range_have_zones() -> None:
    """Zone 1 begins at 180° west, which is 180° east; the equator counts as north."""
    zones = [utm_zone(*place).to_epsg() for place in ((-180, 0), (180, 0), (179.99, -80), (-180, 84))]
    assert zones == [32601, 32601, 32760, 32601]


@pytest.mark.parametrize(
    ("lon", "lat", "message"),
    [
        (180.1, 0, "lon is 180.1°"),
        (np.nan, 0, "lon is nan°"),
        (0, 84.1, "lat is 84.1°"),
        (0, -80.1, "lat is -80.1°"),
    ],
)
def test_places_outside_utm_are_refused(lon, lat, message) -> None:
    with pytest.raises(ValueError, match=message):
        utm_zone(lon, lat)


def test_there_and_back_again_is_the_same_place() -> None:
    lon, lat = np.array([-2.5, -3.1]), np.array([54.1, 53.9])
    x, y = transform_points(lon, lat, WGS84, UTM30)
    assert ((x > 300_000) & (x < 700_000) & (y > 5_900_000) & (y < 6_100_000)).all()
    np.testing.assert_allclose(transform_points(x, y, UTM30, WGS84), [lon, lat], atol=1e-9)


def test_missing_points_and_points_outside_the_projection_are_missing() -> None:
    x, y = transform_points([np.nan, 0.0, 1e9, -3.0], [50.0, np.nan, 50.0, 50.0], WGS84, UTM30)
    np.testing.assert_array_equal(np.isnan(x), [True, True, True, False])
    np.testing.assert_array_equal(np.isnan(y), [True, True, True, False])


def test_a_transformation_without_known_shift_names_both_systems_and_leaves_the_setting_of_proj_alone() -> (
    None
):
    before = is_network_enabled()
    with pytest.raises(BallparkTransformError, match=r"From EPSG:24344 .* to EPSG:4243"):
        transform_points([500_000.0], [2_500_000.0], pyproj.CRS(24344), pyproj.CRS(4243))
    assert is_network_enabled() == before


def test_a_transformation_does_not_ask_the_network_even_where_proj_is_told_to(monkeypatch) -> None:
    asked = []
    monkeypatch.setattr(
        "plotmap.spatial.crs.set_network_enabled",
        lambda active: asked.append(active) or set_network_enabled(active),
    )
    transform_points([0.0], [50.0], WGS84, pyproj.CRS(27700))
    assert asked == [False, is_network_enabled()]


def test_geometries_move_as_their_vertices_do() -> None:
    polygon = shapely.Polygon(
        [(-3, 54), (-2.9, 54), (-2.9, 54.1)], [[(-2.92, 54.02), (-2.91, 54.02), (-2.91, 54.03)]]
    )
    series = gpd.GeoSeries([polygon, None, shapely.Point()], index=[5, 7, 9], crs=WGS84)
    moved = transform_geometries(series, WGS84, UTM30)
    lon, lat = shapely.get_coordinates(polygon).T
    np.testing.assert_array_equal(
        shapely.get_coordinates(moved[5]), np.column_stack(transform_points(lon, lat, WGS84, UTM30))
    )
    assert list(moved.index) == [5, 7, 9]
    assert moved.crs == UTM30
    assert moved[7] is None
    assert moved[9].is_empty
    np.testing.assert_array_equal(transform_geometries(series.to_numpy(), WGS84, UTM30), moved.to_numpy())


def test_geometries_that_do_not_fit_the_projection_are_missing() -> None:
    moved = transform_geometries(
        np.array([shapely.LineString([(0, 50), (1e9, 50)]), shapely.Point(0, 50)]), WGS84, UTM30
    )
    assert moved[0] is None
    assert moved[1] is not None


@pytest.mark.parametrize(("lon", "lat"), [(-5.5, 54.4), (-0.5, 54.4), (-5.5, -33.0), (-3.0, 60.0)])
def test_true_north_is_the_meridian_convergence_turned_round(lon: float, lat: float) -> None:
    """PROJ's own factors (general-purpose library) give the convergence by derivatives, not by a step."""
    crs = pyproj.CRS("EPSG:32630")
    x, y = transform_points([lon], [lat], pyproj.CRS("EPSG:4326"), crs)
    convergence = pyproj.Proj(crs).get_factors(lon, lat).meridian_convergence
    assert true_north_deg(x, y, crs).item() == pytest.approx(-convergence, abs=1e-4)


def test_true_north_leans_west_to_the_east_of_the_central_meridian_on_the_northern_half() -> None:
    """Transverse Mercator: the convergence is about Δλ sin φ (geometry)."""
    crs = pyproj.CRS("EPSG:32630")
    x, y = transform_points([-1.0], [50.0], pyproj.CRS("EPSG:4326"), crs)
    assert true_north_deg(x, y, crs).item() == pytest.approx(-2.0 * np.sin(np.radians(50)), rel=1e-3)
