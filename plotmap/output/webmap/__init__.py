"""The interactive map: one HTML file with everything inside."""

from plotmap.output.webmap.writer import write_map

__all__ = ["write_map"]
