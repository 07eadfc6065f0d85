"""Check measurements: the stems of plots that were measured twice, side by side."""

from plotmap.stems.remeasured.comparison import compare_checks

__all__ = ["compare_checks"]
