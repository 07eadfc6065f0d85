"""Before the field: how many plots, where they lie, and in which order they are visited."""

from plotmap.layout.plan import plan_layout

__all__ = ["plan_layout"]
