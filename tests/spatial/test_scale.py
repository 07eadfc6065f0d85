"""Scale factors of projections against closed formulae."""

from __future__ import annotations

import math

import pytest
from pyproj import CRS, Transformer

from plotmap.spatial.scale import worst_scale


def _scale(code: str, *places: tuple[float, float]) -> float:
    """Return the worst scale at places in degrees."""
    crs = CRS(code)
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(*zip(*places, strict=True))
    return worst_scale(crs, x, y)


@pytest.mark.parametrize("lat", [0.0, 30.0, 54.0, -60.0])
def test_mercator_stretches_by_the_radius_of_the_parallel(lat: float) -> None:
    """Scale of the Mercator on the ellipsoid, Snyder (USGS PP 1395) eq. 7-8, with e² of WGS 84."""
    e2, phi = 0.00669437999014, math.radians(lat)
    expected = math.sqrt(1 - e2 * math.sin(phi) ** 2) / math.cos(phi)
    assert _scale("EPSG:3395", (10.0, lat)) == pytest.approx(expected, rel=1e-9)


def test_the_central_meridian_of_utm_is_shrunk_by_0_9996_by_definition() -> None:
    assert _scale("EPSG:32630", (-3.0, 0.0), (-3.0, 54.0)) == pytest.approx(0.9996, abs=1e-9)


def test_the_worst_place_counts() -> None:
    alone = _scale("EPSG:32630", (15.0, 5.0))
    assert alone > 1.04
    assert _scale("EPSG:32630", (-3.0, 5.0), (15.0, 5.0)) == alone


def test_places_the_projection_cannot_show_are_infinitely_off() -> None:
    assert worst_scale(CRS("EPSG:2154"), [1e12], [1e12]) == math.inf


def test_no_place_has_no_distortion() -> None:
    assert worst_scale(CRS("EPSG:32630"), [], []) == 1.0
