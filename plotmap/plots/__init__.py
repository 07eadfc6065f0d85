"""From stems to values per hectare of each plot: size, slope, edges, expansion."""
