"""Papers that the crew takes to the field, as PDF."""

from plotmap.output.fieldpapers.distances import check_distance_csv, write_distance_csv, write_distances
from plotmap.output.fieldpapers.plot_sheets import FieldSheets, write_field_sheets
from plotmap.output.fieldpapers.strip import write_bands

__all__ = [
    "FieldSheets",
    "check_distance_csv",
    "write_bands",
    "write_distance_csv",
    "write_distances",
    "write_field_sheets",
]
