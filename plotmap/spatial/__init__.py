"""Geometry: reference systems, areas, joins, overlaps. Knows no trees."""
