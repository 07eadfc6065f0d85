"""Published and geometrical figures that the spatial functions reproduce; each test names its source."""

from pathlib import Path

import numpy as np
import pyproj
import pytest
import shapely

from plotmap.spatial import (
    BallparkTransformError,
    circle_overlap_m2,
    datum_change,
    geodesic_area_ha,
    is_metric,
    locate,
    transform_points,
)

LONGLEAF = Path(__file__).parents[1] / "data" / "longleaf.csv"


def test_transverse_mercator_example_of_the_epsg_guidance() -> None:
    """EPSG Guidance Note 7-2, Transverse Mercator: 50°30′N 0°30′E is E 577274.99, N 69740.50 on EPSG:27700."""
    x, y = transform_points([0.5], [50.5], pyproj.CRS(4277), pyproj.CRS(27700))
    assert x[0] == pytest.approx(577_274.99, abs=0.01)
    assert y[0] == pytest.approx(69_740.50, abs=0.01)


def test_position_vector_example_of_the_epsg_guidance() -> None:
    """EPSG Guidance Note 7-2, Position Vector, WGS 72 to WGS 84 (EPSG:1238, accuracy 2 m), from memory.

    The geocentric place 3657660.66, 255768.55, 5201382.11 (55°N 4°E) goes to 3657660.78, 255778.43, 5201387.75 m.
    """
    wgs72, wgs84 = pyproj.CRS(4322), pyproj.CRS(4326)
    to_degrees = pyproj.Transformer.from_crs(4978, 4979, always_xy=True)
    lon, lat, _ = to_degrees.transform(3657660.78, 255778.43, 5201387.75)
    moved = transform_points([4.0], [55.0], wgs72, wgs84)
    np.testing.assert_allclose(np.ravel(moved), [lon, lat], atol=1e-7)  # centimetres in the example
    change = datum_change([4.0], [55.0], wgs72, pyproj.CRS(32631))
    assert change is not None
    assert (change.operations, change.accuracy_m) == (("WGS 72 to WGS 84 (2)",), 2.0)
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(4.0, 55.0, lon, lat)
    assert change.shift_m == pytest.approx(metres, abs=0.05)


def test_ordnance_survey_parameters_and_their_accuracy() -> None:
    """OSGB36 to WGS 84 (6), EPSG:1314, of stated accuracy 2 m, with the seven parameters of Ordnance Survey.

    They stand in "A guide to coordinate systems in Great Britain" (from memory; PROJ's database rounds them).
    The Helmert formula is written out here, from Airy 1830.
    """
    lon, lat = -2.8, 54.4
    shift, turn_sec = np.array([446.448, -125.157, 542.060]), np.array([0.1502, 0.2470, 0.8421])
    scale = 1 - 20.4894e-6
    rx, ry, rz = np.radians(turn_sec / 3600)
    matrix = np.array([[1, -rz, ry], [rz, 1, -rx], [-ry, rx, 1]])
    place = np.array(_geocentric(lon, lat, 6377563.396, 299.3249646))
    x, y, z = shift + scale * matrix @ place
    expected = pyproj.Transformer.from_crs(4978, 4326, always_xy=True).transform(x, y, z)[:2]
    change = datum_change([lon], [lat], pyproj.CRS(4277), pyproj.CRS(32630))
    assert change is not None
    if change.operations == ("OSGB36 to WGS 84 (6)",):
        assert change.accuracy_m == 2.0
        assert change.grids
        assert change.better_accuracy_m == 1.0
    _, _, metres = pyproj.Geod(ellps="WGS84").inv(lon, lat, *expected)
    assert change.shift_m == pytest.approx(metres, abs=3.0)  # 2 m, and the grid's 1 m where it is installed
    moved = transform_points([lon], [lat], pyproj.CRS(4277), pyproj.CRS(4326))
    assert pyproj.Geod(ellps="WGS84").inv(*np.ravel(moved), *expected)[2] < 3.0


def _geocentric(
    lon: float, lat: float, semi_major_m: float, inverse_flattening: float
) -> tuple[float, float, float]:
    """Return the geocentric coordinates of a place on an ellipsoid: the textbook formula."""
    e2 = (2 - 1 / inverse_flattening) / inverse_flattening
    phi, lam = np.radians(lat), np.radians(lon)
    normal = semi_major_m / np.sqrt(1 - e2 * np.sin(phi) ** 2)
    return (
        normal * np.cos(phi) * np.cos(lam),
        normal * np.cos(phi) * np.sin(lam),
        normal * (1 - e2) * np.sin(phi),
    )


def test_geodesic_area_of_a_square_kilometre_on_the_central_meridian() -> None:
    """Computed with pyproj.Geod alone: the square 499500-500500, 2210000-2211000 in UTM 44N is 1000800.48 m²."""
    square = shapely.box(499_500, 2_210_000, 500_500, 2_211_000)
    (area_ha,) = geodesic_area_ha([square], pyproj.CRS(32644))
    assert area_ha * 10_000 == pytest.approx(1_000_800.48, abs=0.005)


def test_web_mercator_stretches_the_same_square_and_is_refused() -> None:
    """Computed with pyproj alone: planar 1139106 m² in EPSG:3857, 13.9 % too much; the geodesic area is not."""
    utm, web = pyproj.CRS(32644), pyproj.CRS(3857)
    corners = shapely.get_coordinates(shapely.box(499_500, 2_210_000, 500_500, 2_211_000))
    stretched = shapely.Polygon(np.column_stack(transform_points(*corners.T, utm, web)))
    assert stretched.area == pytest.approx(1_139_106, abs=0.5)
    assert stretched.area / 1_000_000 == pytest.approx(1.139, abs=5e-4)
    assert geodesic_area_ha([stretched], web)[0] == pytest.approx(100.080048, abs=1e-5)
    assert is_metric(utm)
    assert not is_metric(web)


def test_kalianpur_1880_to_wgs_84_is_refused() -> None:
    """PROJ knows no shift from EPSG:4243 to WGS 84, only a ballpark operation."""
    with pytest.raises(
        BallparkTransformError, match=r"From EPSG:4243 \(Kalianpur 1880\) to EPSG:4326 \(WGS 84\)"
    ):
        transform_points([80.0], [22.0], pyproj.CRS(4243), pyproj.CRS(4326))


@pytest.mark.parametrize(
    ("d_over_r", "share"), [(0.0, 0.5), (0.25, 0.657481), (0.5, 0.804499), (0.75, 0.927853), (1.0, 1.0)]
)
def test_share_of_a_circle_inside_a_straight_edge(d_over_r, share) -> None:
    """Geometry: circular segment, centre d inside the edge; 0.1 ha circle far out in UTM coordinates."""
    radius, east, north = 17.84124, 481_230.0, 2_210_475.0
    half_plane = shapely.box(east - d_over_r * radius, north - 1000, east + 2000, north + 1000)
    (inside,) = circle_overlap_m2([east], [north], [radius], [half_plane])
    assert inside / (np.pi * radius**2) == pytest.approx(share, abs=5e-7)


def test_circles_at_the_edge_of_the_longleaf_stand() -> None:
    """Stand of the longleaf pines (Platt, Evans & Rathbun 1988), 200 m square, r 17.84124 m; by geometry."""
    stand = shapely.box(0, 0, 200, 200)
    inside = circle_overlap_m2([10, 5, 0], [100, 5, 50], 17.84124, [stand] * 3)
    np.testing.assert_allclose(inside, [837.144, 451.049, 500.0], atol=5e-4)


def test_four_longleaf_pines_stand_exactly_on_the_stands_edge_and_belong_to_it() -> None:
    """Longleaf pines (Platt, Evans & Rathbun 1988; Debian r-cran-spatstat.data): 584 stems, four on the edge."""
    x, y, _ = np.loadtxt(LONGLEAF, delimiter=",", skiprows=1).T
    found = locate(shapely.points(x, y), [shapely.box(0, 0, 200, 200)], ["stand"])
    assert (found.position == 0).sum() == 584
    assert found.on_boundary.sum() == 4


def test_longleaf_pines_in_five_tenth_hectare_circles() -> None:
    """Counts computed in R and in numpy: 5 11 27 23 10 stems; here by circles drawn as polygons."""
    x, y, _ = np.loadtxt(LONGLEAF, delimiter=",", skiprows=1).T
    centres = shapely.points([50, 150, 50, 150, 100], [50, 50, 150, 150, 100])
    circles = shapely.buffer(centres, np.sqrt(1000 / np.pi), quad_segs=500)
    found = locate(shapely.points(x, y), circles, list("abcde"))
    counts = np.bincount(found.position[found.position >= 0], minlength=5)
    np.testing.assert_array_equal(counts, [5, 11, 27, 23, 10])
