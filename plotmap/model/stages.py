"""The stages of a run, by name."""

STAGES = (
    "reading the survey",
    "computing stems and plots",
    "estimating compartments",
    "writing the GeoPackage",
    "writing the tables",
    "drawing the map",
    "writing the report",
)
"""What a run does, in order, in the words of its progress bar."""
SHEET_STAGES = (*STAGES[:3], "drawing the sheet")
"""What a map sheet takes, in order."""
SHARE_STAGES = (*STAGES, "looking for leaks")
"""What making results for others takes, in order."""
FIELD_SHEET_STAGES = ("reading the survey", "placing the plots", "drawing the field sheets")
"""What field sheets take, in order."""
LAYOUT_STAGES = (
    "reading the compartments",
    "computing the pilot survey",
    "laying out the plots",
    "writing the layout",
)
"""What laying out plots does, in order."""
COMPARE_STAGES = (
    "computing the old survey",
    "computing the new survey",
    "comparing",
    "writing the change",
)
"""What a comparison does, in order."""
