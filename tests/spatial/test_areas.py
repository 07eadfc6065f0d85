"""Areas on the ellipsoid, against areas known another way."""

import numpy as np
import pyproj
import pytest
import shapely

from plotmap.spatial import geodesic_area_ha

UTM30 = pyproj.CRS(32630)
CENTRAL = 500_000.0, 5_500_000.0


def square(x, y, side, *, hole=0.0) -> shapely.Polygon:
    """Return a square with its lower left corner at x, y, and a square hole in it."""
    shell = shapely.box(x, y, x + side, y + side)
    return shell.difference(shapely.box(x + 1, y + 1, x + 1 + hole, y + 1 + hole)) if hole else shell


def test_on_the_central_meridian_of_utm_areas_are_larger_by_the_square_of_the_scale() -> None:
    """Scale 0.9996 on the central meridian, by the definition of UTM: 1 ha in the plane is 1.0008 ha."""
    area = geodesic_area_ha([square(CENTRAL[0] - 50, CENTRAL[1], 100)], UTM30)
    assert area[0] == pytest.approx(1 / 0.9996**2, rel=1e-7)


def test_orientation_does_not_matter_and_holes_and_parts_add_up() -> None:
    shell, holed = square(*CENTRAL, 200), square(*CENTRAL, 200, hole=50)
    hole, other = (
        square(CENTRAL[0] + 1, CENTRAL[1] + 1, 50),
        square(CENTRAL[0] + 900, CENTRAL[1], 100, hole=10),
    )
    whole, with_hole, of_hole, far, both, turned = geodesic_area_ha(
        [shell, holed, hole, other, shapely.MultiPolygon([holed, other]), shapely.reverse(holed)], UTM30
    )
    assert with_hole == pytest.approx(whole - of_hole, rel=1e-9)
    assert both == pytest.approx(with_hole + far, rel=1e-12)
    assert turned == pytest.approx(with_hole, rel=1e-12)


def test_missing_and_empty_geometries_have_no_area_and_points_one_of_zero() -> None:
    areas = geodesic_area_ha([None, shapely.Polygon(), shapely.Point(*CENTRAL), square(*CENTRAL, 100)], UTM30)
    np.testing.assert_array_equal(np.isnan(areas), [True, True, False, False])
    assert areas[2] == 0.0
    assert areas[3] > 0.99


def test_a_polygon_outside_what_the_projection_can_show_has_no_area_and_spoils_no_other() -> None:
    areas = geodesic_area_ha([shapely.box(1e12, 0, 2e12, 1e12), square(*CENTRAL, 100)], UTM30)
    np.testing.assert_array_equal(np.isnan(areas), [True, False])


def test_no_geometries_have_no_areas() -> None:
    assert len(geodesic_area_ha([], UTM30)) == 0
    assert np.isnan(geodesic_area_ha([None, shapely.Polygon()], UTM30)).all()


def test_degrees_and_projected_coordinates_give_one_area() -> None:
    """A cell of 0.01° by 0.01° on the equator: 1.1132 km × 1.1057 km (any table of the WGS 84 ellipsoid)."""
    cell = shapely.box(9.0, 0.0, 9.01, 0.01)
    (area,) = geodesic_area_ha([cell], pyproj.CRS(4326))
    assert area == pytest.approx(111.32 * 1.1057, rel=1e-4)


def test_the_whole_ellipsoid_is_covered_by_its_octants() -> None:
    """Surface of the WGS 84 ellipsoid: 510 065 621.7 km² (from memory; closed form in any geodesy text)."""
    octant = shapely.Polygon([(0, 0), (90, 0), (90, 90), (0, 90)])
    (area,) = geodesic_area_ha([octant], pyproj.CRS(4326))
    assert 8 * area / 100 == pytest.approx(510_065_621.7, rel=1e-9)


def test_systems_in_grads_give_the_area_of_the_same_cell_in_degrees() -> None:
    """EPSG:4807 counts in grads from Paris; 1 grad is 0.9°. Both are on the ellipsoid Clarke 1880 IGN."""
    grads = geodesic_area_ha([shapely.box(0, 50, 0.01, 50.01)], pyproj.CRS(4807))
    degrees = geodesic_area_ha([shapely.box(0, 45, 0.009, 45.009)], pyproj.CRS(4275))
    assert grads[0] == pytest.approx(degrees[0], rel=1e-9)


def test_the_ellipsoid_is_that_of_the_system() -> None:
    """Semi-axes squared: Airy 1830 is smaller than WGS 84 by 1.8e-4 in area on the whole."""
    cell = [shapely.box(-2, 53, -1.99, 53.01)]
    ratio = geodesic_area_ha(cell, pyproj.CRS(4277)) / geodesic_area_ha(cell, pyproj.CRS(4326))
    assert ratio[0] == pytest.approx((6_377_563.396 / 6_378_137) ** 2, abs=3e-5)
    assert ratio[0] < 1 - 1e-4


def test_a_system_that_is_not_tied_to_the_earth_is_refused() -> None:
    local = pyproj.CRS(
        'ENGCRS["Yard",EDATUM["Yard"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],LENGTHUNIT["metre",1]]'
    )
    with pytest.raises(ValueError, match="CRS Yard is not tied to the earth"):
        geodesic_area_ha([square(0, 0, 10)], local)
