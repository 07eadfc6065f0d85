"""The tables an officer brings, declared (what the survey folder may hold)."""

from __future__ import annotations

from plotmap.model.columns import Column, Kind, Table
from plotmap.model.field_tables_thinning import PRESCRIPTIONS
from plotmap.units import Dimension

MEASURED, EMPTY, UNVISITED, LOST = "measured", "empty", "unvisited", "lost"
ESTIMATED_STATES = (MEASURED, EMPTY)
LIVE, DEAD, CUT = "live", "dead", "cut"
CALIPER, TAPE = "caliper", "tape"
OVER, UNDER = "over", "under"

COMPARTMENTS = Table(
    "compartments",
    "Compartments",
    "a compartment (a polygon)",
    (
        Column(
            "compartment", Kind.IDENTIFIER, "Compartment", "Identifier of the compartment.", required=True
        ),
        Column("name", Kind.TEXT, "Name", "Name people use; the identifier where missing."),
        Column(
            "stratum",
            Kind.IDENTIFIER,
            "Stratum",
            "Group the compartment belongs to; all belong to one where the column is missing.",
        ),
        Column(
            "area_ha",
            Kind.NUMBER,
            "Register area",
            "Area by the register; the geodesic area of the polygon is used where missing.",
            unit="ha",
            dimension=Dimension.AREA,
            low=0.0001,
            high=1_000_000,
        ),
    ),
    key=("compartment",),
)

PLOTS = Table(
    "plots",
    "Sample plots",
    "a sample plot, also one without trees",
    (
        Column("plot", Kind.IDENTIFIER, "Plot", "Identifier of the plot.", required=True),
        Column(
            "easting",
            Kind.NUMBER,
            "Easting",
            "Of the plot centre, in the survey's CRS.",
            unit="m",
            low=-30_000_000,
            high=30_000_000,
        ),
        Column(
            "northing",
            Kind.NUMBER,
            "Northing",
            "Of the plot centre, in the survey's CRS.",
            unit="m",
            low=-30_000_000,
            high=30_000_000,
        ),
        Column(
            "lon",
            Kind.NUMBER,
            "Longitude",
            "Of the plot centre, decimal degrees east on WGS 84; needed where easting is missing.",
            unit="°",
            low=-180,
            high=180,
        ),
        Column(
            "lat",
            Kind.NUMBER,
            "Latitude",
            "Of the plot centre, decimal degrees north on WGS 84; needed where northing is missing.",
            unit="°",
            low=-90,
            high=90,
        ),
        Column(
            "compartment",
            Kind.IDENTIFIER,
            "Compartment of the crew",
            "Compartment as the crew wrote it; missing means that it was not written.",
        ),
        Column(
            "state",
            Kind.CHOICE,
            "State",
            "What became of the plot; measured where missing. Empty means visited and without trees: a "
            "real zero. Unvisited and lost plots do not enter the estimates.",
            choices=(MEASURED, EMPTY, UNVISITED, LOST),
        ),
        Column(
            "design",
            Kind.CHOICE,
            "Design",
            "How the plot is laid out; the survey's own design where missing. A full count is a row without a "
            "position whose compartment was counted whole.",
            choices=("circle", "rectangle", "nested", "angle-count", "strip", "full"),
        ),
        Column("date", Kind.DATE, "Date", "Day of measurement (YYYY-MM-DD); missing means not known."),
        Column("crew", Kind.TEXT, "Crew", "Who measured; missing means not known."),
        Column(
            "radius_m",
            Kind.NUMBER,
            "Plot radius",
            "Radius of a circular plot; the survey's own radius where missing.",
            unit="m",
            dimension=Dimension.LENGTH,
            low=0.5,
            high=200,
        ),
        Column(
            "area_m2",
            Kind.NUMBER,
            "Plot area",
            "Area of the plot; the survey's own area where missing.",
            unit="m²",
            dimension=Dimension.AREA,
            low=1,
            high=100_000,
        ),
        Column(
            "length_m",
            Kind.NUMBER,
            "Strip length",
            "Length of a strip or rectangle; its area is length times width.",
            unit="m",
            dimension=Dimension.LENGTH,
            low=1,
            high=10_000,
        ),
        Column(
            "width_m",
            Kind.NUMBER,
            "Strip width",
            "Width of a strip or rectangle; the survey's own width where missing.",
            unit="m",
            dimension=Dimension.LENGTH,
            low=0.5,
            high=200,
        ),
        Column(
            "baf_m2_per_ha",
            Kind.NUMBER,
            "Basal area factor",
            "Basal area per hectare that each stem of an angle count stands for; the survey's own where missing.",
            unit="m²/ha",
            low=0.1,
            high=60,
        ),
        Column(
            "slope_pct",
            Kind.NUMBER,
            "Slope",
            "Steepest slope across the plot (rise over run); level where missing.",
            unit="%",
            dimension=Dimension.SLOPE,
            low=0,
            high=300,
        ),
    ),
    key=("plot",),
)

TREES = Table(
    "trees",
    "Stems measured",
    "one stem measured",
    (
        Column("plot", Kind.IDENTIFIER, "Plot", "Plot the stem stands on.", required=True),
        Column("tree", Kind.IDENTIFIER, "Tree", "Number of the stem on its plot; missing is allowed."),
        Column("species", Kind.IDENTIFIER, "Species", "Species as written; missing means not recorded."),
        Column(
            "condition",
            Kind.CHOICE,
            "Condition",
            "Live where missing. Dead stems are set aside unless the settings count them. A stem of an earlier "
            "survey of which only the stump is left is cut: always set aside, and counted when surveys are compared.",
            choices=(LIVE, DEAD, CUT),
        ),
        Column(
            "d_cm",
            Kind.NUMBER,
            "Caliper reading",
            "Diameter read on the caliper, one column a reading: d1_cm, d2_cm, …",
            unit="cm",
            dimension=Dimension.LENGTH,
            low=0.5,
            high=400,
            numbered=True,
        ),
        Column(
            "girth_cm",
            Kind.NUMBER,
            "Girth",
            "Girth read on the tape; used where no caliper reading is given.",
            unit="cm",
            dimension=Dimension.LENGTH,
            low=1.5,
            high=1250,
        ),
        Column(
            "instrument",
            Kind.IDENTIFIER,
            "Instrument",
            "Caliper or tape the stem was measured with; uncorrected where missing.",
        ),
        Column(
            "bark",
            Kind.CHOICE,
            "Basis of the reading",
            "Whether the stem was read over or under bark; over where missing.",
            choices=(OVER, UNDER),
        ),
        Column(
            "bark_mm",
            Kind.NUMBER,
            "Bark thickness",
            "Single bark thickness; the species' bark factor where missing.",
            unit="mm",
            dimension=Dimension.LENGTH,
            low=0,
            high=150,
        ),
        Column(
            "climber",
            Kind.CHOICE,
            "Climber on the stem",
            "Whether a climber stands on the stem; where missing, only if climber_mm is given.",
            choices=("yes", "no"),
        ),
        Column(
            "climber_mm",
            Kind.NUMBER,
            "Climber",
            "Diameter of a climber inside the girth; not measured where missing.",
            unit="mm",
            dimension=Dimension.LENGTH,
            low=0,
            high=600,
        ),
        Column(
            "height_m",
            Kind.NUMBER,
            "Height",
            "Tree height; not measured where missing.",
            unit="m",
            dimension=Dimension.LENGTH,
            low=1.3,
            high=120,
        ),
        Column(
            "azimuth_deg",
            Kind.NUMBER,
            "Azimuth",
            "Bearing from the plot centre to the stem; not measured where missing.",
            unit="°",
            dimension=Dimension.ANGLE,
            low=0,
            high=360,
        ),
        Column(
            "distance_m",
            Kind.NUMBER,
            "Distance",
            "Level distance from the plot centre to the stem's axis; not measured where missing.",
            unit="m",
            dimension=Dimension.LENGTH,
            low=0,
            high=200,
        ),
        Column(
            "times",
            Kind.COUNT,
            "Times counted",
            "How often the stem counts (2 or more where it was tallied again by mirage); once where missing.",
            low=1,
            high=4,
        ),
        Column("remark", Kind.TEXT, "Remark", "Whatever the crew noted."),
    ),
    key=("plot", "tree"),
)

TALLIES = Table(
    "tallies",
    "Stems tallied by class",
    "the stems of one class on one plot",
    (
        Column("plot", Kind.IDENTIFIER, "Plot", "Plot the stems stand on.", required=True),
        Column("species", Kind.IDENTIFIER, "Species", "Species as written; missing means not recorded."),
        Column(
            "class",
            Kind.IDENTIFIER,
            "Class",
            "Diameter class (its edges, as in 10–20) or the name or letter of a painted band of the settings.",
            required=True,
        ),
        Column(
            "instrument",
            Kind.IDENTIFIER,
            "Instrument",
            "Caliper or tape whose marks the stems were tallied by; edges are taken as they stand where missing.",
        ),
        Column("count", Kind.COUNT, "Count", "Stems in the class.", required=True, low=0, high=100_000),
    ),
    key=("plot", "species", "class"),
)

INSTRUMENTS = Table(
    "instruments",
    "Instrument checks",
    "one check of one caliper or tape",
    (
        Column("instrument", Kind.IDENTIFIER, "Instrument", "Mark on the instrument.", required=True),
        Column(
            "kind",
            Kind.CHOICE,
            "Kind",
            "That of the check before where missing, else caliper.",
            choices=(CALIPER, TAPE),
        ),
        Column("date", Kind.DATE, "Date", "Day of the check (YYYY-MM-DD).", required=True),
        Column(
            "zero_mm",
            Kind.NUMBER,
            "Zero reading",
            "Reading with the jaws closed (tape: at a true zero), plus or minus; that of the check before where "
            "missing, else 0.",
            unit="mm",
            dimension=Dimension.LENGTH,
            low=-50,
            high=50,
        ),
        Column(
            "bar_mm",
            Kind.NUMBER,
            "Check bar",
            "True size of a check bar; where missing, the gain is that of the check before, else 1.",
            unit="mm",
            dimension=Dimension.LENGTH,
            low=10,
            high=3000,
        ),
        Column(
            "bar_reading_mm",
            Kind.NUMBER,
            "Reading of the check bar",
            "What the instrument showed on the bar; several rows of one day are repeated readings of one bar.",
            unit="mm",
            dimension=Dimension.LENGTH,
            low=10,
            high=3000,
        ),
    ),
    key=("instrument", "date"),
)

SPECIES = Table(
    "species",
    "Species",
    "a species",
    (
        Column("species", Kind.IDENTIFIER, "Species", "Spelling the field sheets use.", required=True),
        Column("name", Kind.TEXT, "Botanical name", "Missing where not given."),
        Column("local_name", Kind.TEXT, "Local name", "Missing where not given."),
        Column("group", Kind.IDENTIFIER, "Group", "Group the species is reported with; missing: its own."),
        Column(
            "bark_factor",
            Kind.NUMBER,
            "Bark factor",
            "Diameter under bark over diameter over bark; not known where missing.",
            low=0.5,
            high=1,
        ),
        Column(
            "form_factor",
            Kind.NUMBER,
            "Form factor",
            "Stem volume over basal area times height; not known where missing.",
            low=0.2,
            high=0.9,
        ),
        Column(
            "sensitive",
            Kind.CHOICE,
            "Sensitive",
            "Whether plotmap share reports the species together with others only; no where missing.",
            choices=("yes", "no"),
        ),
        Column(
            "oval",
            Kind.CHOICE,
            "Oval",
            "Whether stems of the species are known to be oval, so that one reading will not do; no where missing.",
            choices=("yes", "no"),
        ),
    ),
    key=("species",),
)

CHECK_TREES = Table(
    "check_trees",
    "Stems of check measurements",
    "one stem measured again on a plot that is checked",
    (
        *TREES.columns,
        Column("crew", Kind.TEXT, "Crew of the check", "Who measured again; missing means not known."),
        Column(
            "date",
            Kind.DATE,
            "Date of the check",
            "Day of the check (YYYY-MM-DD), for the instrument check in force; missing means not known.",
        ),
    ),
    key=("plot", "tree"),
)

FIELD_TABLES: tuple[Table, ...] = (
    COMPARTMENTS,
    PLOTS,
    TREES,
    TALLIES,
    INSTRUMENTS,
    SPECIES,
    CHECK_TREES,
    PRESCRIPTIONS,
)
"""Every table a survey folder may hold, in the order in which they are read."""

SOURCE_ROW = "source_row"
"""Column every table carries after reading: the row in its file, as a spreadsheet numbers it."""
NO_SPECIES = "not recorded"
"""What stands for a missing species in results."""
ONE_STRATUM = "all"
"""The stratum of every compartment where the layer has no strata."""
