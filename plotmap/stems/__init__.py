"""From readings and tallies to diameters, cross-sections and size classes."""
