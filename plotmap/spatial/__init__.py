"""Geometry: reference systems, areas, joins, overlaps. Knows no trees."""

from plotmap.spatial.areas import geodesic_area_ha
from plotmap.spatial.circle_overlap import circle_overlap_m2, circle_parts
from plotmap.spatial.crs import (
    BallparkTransformError,
    is_metric,
    transform_geometries,
    transform_points,
    true_north_deg,
    utm_zone,
)
from plotmap.spatial.datums import datum_change
from plotmap.spatial.locate import locate
from plotmap.spatial.nearness import near_boundaries
from plotmap.spatial.topology import invalid_reasons, overlaps

__all__ = [
    "BallparkTransformError",
    "circle_overlap_m2",
    "circle_parts",
    "datum_change",
    "geodesic_area_ha",
    "invalid_reasons",
    "is_metric",
    "locate",
    "near_boundaries",
    "overlaps",
    "transform_geometries",
    "transform_points",
    "true_north_deg",
    "utm_zone",
]
