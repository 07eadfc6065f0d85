"""From readings and tallies to diameters, cross-sections and size classes."""

from plotmap.stems.measure import measure_stems

__all__ = ["measure_stems"]
