"""From stems to values per hectare of each plot: size, slope, edges, expansion."""

from plotmap.plots.values import compute_plots

__all__ = ["compute_plots"]
