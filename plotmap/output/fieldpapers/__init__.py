"""Papers that the crew takes to the field, as PDF."""

from plotmap.output.fieldpapers.strip import write_bands

__all__ = ["write_bands"]
