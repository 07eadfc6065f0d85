"""From readings and tallies to diameters, cross-sections and size classes."""

from plotmap.stems.measure import measure_stems
from plotmap.stems.remeasured import compare_checks

__all__ = ["compare_checks", "measure_stems"]
