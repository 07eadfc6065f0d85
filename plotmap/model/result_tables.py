"""The tables plotmap writes, declared: names, units and meanings for every writer and document."""

from __future__ import annotations

from plotmap.model.columns import Column, Kind, Table, count, number, text
from plotmap.model.result_tables_errors import ERROR_PART_RESULTS, GRID_ERROR_RESULTS, MODEL_BASED_RESULTS
from plotmap.model.result_tables_heights import (
    HEIGHT_CURVE_RESULTS,
    STAND_DENSITY_RESULTS,
    VOLUME_EQUATION_RESULTS,
    VOLUME_RESULTS,
)
from plotmap.model.result_tables_structure import (
    SHARE,
    STRUCTURE_RESULTS,
    class_sum_results,
    species_sum_results,
)
from plotmap.model.result_words import (
    AREA_SOURCES,
    BARK_BY,
    CHECK_BASIS,
    CHECK_GROUPS,
    CHECK_OUTCOMES,
    CHECK_STATUS,
    CLIMBERS,
    COMPARED_BY,
    DESIGNS,
    INSTRUMENTS,
    INTERVALS,
    MEANS,
    OUTCOMES,
    SEVERITIES,
    STATES,
    STATUS,
    TOTAL_AREA_SOURCES,
    TOTAL_STATUS,
    YES_NO,
)

ESTIMATED, ONE_PLOT, NO_PLOTS, FULL_COUNT = "estimated", "one plot", "no plots", "full count"
"""Words of ``status``."""
TOTAL_PARTLY = "partly"
"""Status of a total some of whose compartments have no error of their own, so that it has none."""


def _estimate(name: str, title: str, unit: str, meaning: str) -> tuple[Column, ...]:
    """Declare an estimate with its standard error and limits."""
    missing = "missing where fewer than two plots were measured"
    return (
        number(name, title, unit, f"{meaning} Missing without plots."),
        number(f"{name}_se", f"{title}, standard error", unit, f"Standard error of {name}; {missing}."),
        number(
            f"{name}_low",
            f"{title}, lower limit",
            unit,
            f"Lower confidence limit of {name}, never below zero; {missing}.",
        ),
        number(
            f"{name}_high", f"{title}, upper limit", unit, f"Upper confidence limit of {name}; {missing}."
        ),
    )


_PER_HA = (
    *_estimate("stems_per_ha", "Stems", "1/ha", "Stems per hectare."),
    *_estimate("basal_area_m2_per_ha", "Basal area", "m²/ha", "Basal area at breast height per hectare."),
)
_TOTALS = (
    *_estimate("stems_total", "Stems, total", "", "Stems on the whole area."),
    *_estimate("basal_area_m2_total", "Basal area, total", "m²", "Basal area on the whole area."),
)
_SIZES = (
    number(
        "dg_cm",
        "Quadratic mean diameter",
        "cm",
        "Diameter of the stem of mean basal area; missing without stems.",
    ),
    number("mean_dbh_cm", "Mean diameter", "cm", "Arithmetic mean diameter; missing without stems."),
    number(
        "sampling_error_pct",
        "Sampling error",
        "%",
        "Half the width of Student's t interval of basal area in per cent of basal area, whatever kind the limits "
        "are of; missing where there is no error or no basal area.",
    ),
    text(
        "status",
        "Status",
        "What the figures rest on: estimated, one plot (no error), no plots (no figures), full count (no sampling "
        "error).",
        STATUS,
    ),
)
_INTERVAL = text(
    "interval",
    "Interval",
    "Kind of the confidence limits: gamma, t or log; Poisson where no stem was found (the lower limit is 0, the "
    "upper one says what could still stand there); none where there are no limits, or both equal the estimate.",
    INTERVALS,
)
_AREA = (
    number("area_ha", "Area", "ha", "Area that totals are taken over."),
    text("area_source", "Source of the area", "register or geodesic.", AREA_SOURCES),
)
_COUNTS = (
    count("n_plots", "Plots", "Plots that entered the estimate, empty ones too."),
    number("n_trees", "Stems counted", "", "Stems counted on these plots."),
)

COMPARTMENT_RESULTS = Table(
    "compartments",
    "Compartments",
    "a compartment",
    (
        text("compartment", "Compartment", "Identifier of the compartment."),
        text("name", "Name", "Name people use."),
        text("stratum", "Stratum", "Group the compartment belongs to."),
        *_AREA,
        *_COUNTS,
        number(
            "sampling_fraction",
            "Sampling fraction",
            "",
            "Share of the area that lies on plots, by which errors were corrected; missing where the settings do not "
            "ask for it, for angle counts and where plots of several designs weigh alike.",
        ),
        *_PER_HA,
        *_TOTALS,
        *_SIZES,
        _INTERVAL,
        number(
            "not_found_stems_per_ha_high",
            "Not found, upper limit",
            "1/ha",
            "Upper confidence limit of the stems of any one class or species of which no stem was found, as long as "
            "they stand independently of each other; missing without plots, with angle counts only, and where all "
            "was counted.",
        ),
    ),
    key=("compartment",),
)

PLOT_RESULTS = Table(
    "plots",
    "Sample plots",
    "a sample plot",
    (
        text("plot", "Plot", "Identifier of the plot."),
        text("compartment", "Compartment", "Compartment the plot counts for; missing where set aside."),
        text("state", "State", "measured, empty, unvisited or lost.", STATES),
        text("design", "Design", "How the plot is laid out.", DESIGNS),
        text("set_aside", "Set aside", "Why the plot does not enter the estimates; missing where it does."),
        Column("date", Kind.DATE, "Date", "Day of measurement; missing where not known."),
        text("crew", "Crew", "Who measured; missing where not known."),
        number("slope_pct", "Slope", "%", "Slope as measured; missing where not measured."),
        number(
            "area_m2",
            "Plot area",
            "m²",
            "Level area the stems are divided by, after slope and edge rule; of the widest ring of a nested plot; "
            "missing for an angle count.",
        ),
        number(
            "share_inside",
            "Share inside",
            "",
            "Share of the circle that lies in its compartment (0 to 1); missing for other shapes.",
        ),
        number("n_trees", "Stems counted", "", "Stems counted on the plot; 0 on an empty plot."),
        number("stems_per_ha", "Stems", "1/ha", "Stems per hectare; missing where set aside."),
        number(
            "basal_area_m2_per_ha", "Basal area", "m²/ha", "Basal area per hectare; missing where set aside."
        ),
        number("dg_cm", "Quadratic mean diameter", "cm", "Of the stems of the plot; missing without stems."),
        count("source_row", "Row", "Row of the plots table, as a spreadsheet numbers it."),
    ),
    key=("plot",),
)

TREE_RESULTS = Table(
    "trees",
    "Stems measured",
    "a stem measured that entered the estimates",
    (
        text("plot", "Plot", "Plot the stem stands on."),
        text("tree", "Tree", "Number of the stem; missing where not numbered."),
        text("species", "Species", "Species; 'not recorded' where missing."),
        number("dbh_cm", "Diameter", "cm", "Diameter at breast height after all corrections."),
        number("basal_area_m2", "Basal area", "m²", "Cross-section at breast height."),
        text("class", "Class", "Size class."),
        number("times", "Times counted", "", "How often the stem counts."),
        number("stems_per_ha", "Stems it stands for", "1/ha", "Stems per hectare the stem stands for."),
        text("reading", "Reading", "What was read, in the unit of computation (cm)."),
        number(
            "roundness",
            "Roundness",
            "",
            "Smallest over largest corrected caliper reading; missing with fewer than two.",
        ),
        text(
            "climber",
            "Climber",
            "taken off, or not known (its size was not measured, so the girth stayed as it was); missing where "
            "there is none in the reading.",
            CLIMBERS,
        ),
        text(
            "bark_by",
            "Basis",
            "How the stem came to the basis of the settings: measured so, bark_mm or bark_factor.",
            BARK_BY,
        ),
        number(
            "correction_mm",
            "Correction",
            "mm",
            "Corrected diameter minus the mean of the readings as diameters; 0 where nothing was corrected.",
        ),
        number(
            "easting", "Easting", "m", "Of the stem, in the CRS of the results; missing where not measured."
        ),
        number(
            "northing", "Northing", "m", "Of the stem, in the CRS of the results; missing where not measured."
        ),
        count("source_row", "Row", "Row of the trees table, as a spreadsheet numbers it."),
    ),
    key=("source_row",),
)

TALLIED_RESULTS = Table(
    "tallied",
    "Stems tallied",
    "the part of one tally row that falls in one size class",
    (
        text("plot", "Plot", "Plot the stems stand on."),
        text("species", "Species", "Species; 'not recorded' where missing."),
        text("tallied_as", "Tallied as", "Class or band as written."),
        text("band_letter", "Band", "Letter of the painted band; missing for classes."),
        text("class", "Class", "Size class."),
        number(
            "count", "Stems", "", "Stems; not whole where a band spans several classes and is shared out."
        ),
        number("dbh_cm", "Mean diameter", "cm", "Mean diameter of the class part, by the linear density."),
        number("basal_area_m2", "Mean basal area", "m²", "Mean cross-section of one stem of the class part."),
        number("stems_per_ha", "Stems they stand for", "1/ha", "Stems per hectare the row stands for."),
        count("source_row", "Row", "Row of the tallies table, as a spreadsheet numbers it."),
    ),
    key=("source_row", "class"),
)

INSTRUMENT_LOG_RESULTS = Table(
    "instrument_log",
    "Instrument log",
    "one instrument on one day of checks",
    (
        text("instrument", "Instrument", "Mark on the instrument."),
        text("kind", "Kind", "caliper or tape.", INSTRUMENTS),
        Column("date", Kind.DATE, "Date", "Day of the check."),
        count("days_in_force", "Days in force", "Days to the next check; missing for the last one."),
        number("zero_mm", "Zero", "mm", "Zero in force from this check on; 0 where none was ever read."),
        number("gain", "Gain", "", "Gain in force from this check on; 1 where no bar was ever read."),
        text(
            "from_earlier",
            "From an earlier check",
            "What this check lacks and was taken from the one before: zero, gain or both; missing where nothing was.",
        ),
        number(
            "lean_deg",
            "Lean of the jaw",
            "°",
            "Lean of the jaw that the gain of a caliper means, outward plus; missing for tapes and without a bar.",
        ),
        number("bar_mm", "Check bar", "mm", "True size of the bar read on that day; missing without one."),
        count("bar_readings", "Bar readings", "Readings of the check bar on that day; 0 without a bar."),
        number(
            "random_error_mm",
            "Random error",
            "mm",
            "Standard deviation of one reading, from repeated readings of a bar; missing where never repeated.",
        ),
        count("n_stems", "Stems corrected", "Stems that count, corrected by this check."),
        number(
            "basal_area_taken_off_m2",
            "Basal area taken off",
            "m²",
            "Cross-section of these stems that the random error had added, taken off; 0 where it is not known.",
        ),
        count(
            "source_row",
            "Row",
            "First row of the check in the instruments table, as a spreadsheet numbers it.",
        ),
    ),
    key=("instrument", "date"),
)

SECTION_EFFECT_RESULTS = Table(
    "section_effect",
    "Effect of the section's mean",
    "one way to make a diameter of the readings of one stem",
    (
        text(
            "mean",
            "Mean",
            "arithmetic, geometric or quadratic mean of caliper readings, or the girth over π.",
            MEANS,
        ),
        text("used", "Used", "yes for the mean of the settings.", YES_NO),
        count(
            "n_stems",
            "Stems",
            "Stems that count with two or more caliper readings; for the girth, with caliper readings and a girth.",
        ),
        number(
            "basal_area_m2", "Basal area", "m²", "Their cross-section by this mean, as often as they count."
        ),
        number("basal_area_used_m2", "Basal area as used", "m²", "The same by the mean of the settings."),
        number(
            "difference_pct",
            "Difference",
            "%",
            "Basal area by this mean over basal area as used, less one.",
        ),
    ),
    key=("mean",),
)

_CLASS = (
    text("class", "Class", "Size class, printed with the edge that belongs to it."),
    number("low_cm", "Lower edge", "cm", "Lower edge of the class; missing where open below."),
    number("high_cm", "Upper edge", "cm", "Upper edge of the class; missing where open above."),
)
_COMPARTMENT = text("compartment", "Compartment", "Identifier of the compartment.")
_SPECIES = text(
    "species",
    "Species",
    "Species, or the group that the species table reports it with; 'not recorded' where missing.",
)
_N_TREES = number("n_trees", "Stems counted", "", "Stems counted on the compartment's plots.")

CLASS_RESULTS = Table(
    "classes",
    "Size classes by species",
    "a compartment, species and size class",
    (_COMPARTMENT, _SPECIES, *_CLASS, _N_TREES, *_PER_HA, _INTERVAL),
    key=("compartment", "species", "class"),
)
CLASS_TOTAL_RESULTS = Table(
    "class_totals",
    "Size classes, all species",
    "a compartment and size class, all species together",
    (_COMPARTMENT, *_CLASS, _N_TREES, *_PER_HA, _INTERVAL),
    key=("compartment", "class"),
)
SPECIES_TOTAL_RESULTS = Table(
    "species_totals",
    "Species, all sizes",
    "a compartment and species, all sizes together",
    (_COMPARTMENT, _SPECIES, _N_TREES, *_PER_HA, _INTERVAL, *SHARE),
    key=("compartment", "species"),
)
_N_SUMMED = number("n_trees", "Stems counted", "", "Stems counted on the plots of all its compartments.")
CLASS_SUM_RESULTS = class_sum_results((_N_SUMMED, *_PER_HA, *_TOTALS, _INTERVAL), _CLASS)
SPECIES_SUM_RESULTS = species_sum_results((_N_SUMMED, *_PER_HA, *_TOTALS, _INTERVAL), _SPECIES)

_COVERED = (
    number(
        "area_ha",
        "Area covered",
        "ha",
        "Area of the compartments that have plots; where plots are samples of strata or of the survey, of all "
        "compartments whose stratum has plots.",
    ),
    number(
        "area_left_out_ha",
        "Area left out",
        "ha",
        "Area of the compartments that the totals do not cover, for which nothing is said.",
    ),
    text("area_source", "Source of the area", "register, geodesic or both.", TOTAL_AREA_SOURCES),
    count("n_compartments", "Compartments", "Compartments that the totals cover."),
    count(
        "n_without_plots",
        "Compartments without plots",
        "Compartments without plots that the totals cover by the other plots of their stratum; 0 where plots are "
        "samples of compartments.",
    ),
    count("n_left_out", "Compartments left out", "Compartments without plots that the totals do not cover."),
    count(
        "n_one_plot",
        "Samples with one plot",
        "Compartments with one plot; where plots are samples of strata or of the survey, strata with one. Their "
        "variance is pooled or merged where the settings say so; otherwise the total has no error.",
    ),
    *_COUNTS,
    *_PER_HA,
    *_TOTALS,
    *_SIZES[:-1],
    _INTERVAL,
    text(
        "status",
        "Status",
        "estimated; partly (a compartment, or a stratum that is a sample, with one plot: no error); no plots (no "
        "figures).",
        TOTAL_STATUS,
    ),
)
STRATUM_RESULTS = Table(
    "strata",
    "Strata",
    "a stratum",
    (text("stratum", "Stratum", "Group of compartments."), *_COVERED),
    key=("stratum",),
)
SURVEY_RESULTS = Table("survey_total", "Survey total", "the whole survey", _COVERED)

FINDING_RESULTS = Table(
    "findings",
    "Findings",
    "one finding",
    (
        text("code", "Code", "Stable name of the check."),
        text("severity", "Severity", "error, warning or note.", SEVERITIES),
        text("file", "File", "File, and sheet or layer."),
        count("row", "Row", "Row in the file, as a spreadsheet numbers it; missing for a whole file."),
        text("plot", "Plot", "Plot it is about; missing where none."),
        text("compartment", "Compartment", "Compartment it is about; missing where none."),
        text("column", "Column", "Column it is about; missing where none."),
        text("value", "Value", "Value as written; missing where none."),
        text("message", "Message", "What is wrong, and what is allowed."),
        text("hint", "Hint", "What to do."),
    ),
)
LEDGER_RESULTS = Table(
    "ledger",
    "Ledger",
    "rows of one file with one outcome",
    (
        text("file", "File", "File, and sheet or layer."),
        text("table", "Table", "Table it holds."),
        text("outcome", "Outcome", "read, used or set aside.", OUTCOMES),
        text("reason", "Reason", "Why rows were set aside; empty otherwise."),
        count("rows", "Rows", "Number of rows."),
    ),
)

CHECK_DIFFERENCE_RESULTS = Table(
    "check_differences",
    "Check measurements, stem by stem",
    "a stem of a checked plot: found by the crew, by the check, or by both",
    (
        text("plot", "Plot", "Plot that was checked."),
        text(
            "outcome",
            "Outcome",
            "pair, tallied, missed (by the crew) or extra (the check did not find it).",
            CHECK_OUTCOMES,
        ),
        text(
            "compared_by",
            "Compared by",
            "What the partner was found by: number, position, size or count; missing without a partner.",
            COMPARED_BY,
        ),
        number("n_stems", "Stems", "", "Stems of the row: 1, but for extra stems of a tally."),
        text("crew", "Crew", "Who measured the plot; missing where not known."),
        text("check_crew", "Crew of the check", "Who measured again; missing where not known."),
        text("tree", "Tree", "Number of the stem by the crew; missing without one."),
        text("check_tree", "Tree by the check", "Number of the stem by the check; missing without one."),
        text("species", "Species", "Species by the crew; missing where missed or tallied."),
        text("check_species", "Species by the check", "Species by the check; missing where extra."),
        text("instrument", "Instrument", "Instrument of the crew; missing where not known."),
        text(
            "check_instrument", "Instrument of the check", "Instrument of the check; missing where not known."
        ),
        number(
            "dbh_cm", "Diameter", "cm", "Corrected diameter by the crew; missing where missed or tallied."
        ),
        number(
            "check_dbh_cm", "Diameter by the check", "cm", "Corrected in the same way; missing where extra."
        ),
        number("difference_mm", "Difference", "mm", "Diameter by the crew less by the check; only of pairs."),
        number("tolerance_mm", "Tolerance", "mm", "Difference that the settings allow; only of pairs."),
        text(
            "within",
            "Within",
            "yes or no: whether the difference is within the tolerance; only of pairs.",
            YES_NO,
        ),
        text("class", "Class", "Size class by the crew, or the class or band tallied; missing where missed."),
        text(
            "check_class",
            "Class by the check",
            "Size class of the diameter by the check, on tallied plots the class or band it belongs to; "
            "missing where extra.",
        ),
        text("set_aside", "Set aside", "Why the crew's stem does not count: dead or too thin; else missing."),
        text(
            "check_set_aside", "Set aside, check", "Why the stem of the check does not count; else missing."
        ),
        count("source_row", "Row", "Row of the trees table; missing where missed or tallied."),
        count("check_source_row", "Row of the check", "Row of the check_trees table; missing where extra."),
    ),
    key=("source_row", "check_source_row"),
)
CHECK_SUMMARY_RESULTS = Table(
    "check_summary",
    "Check measurements, summary",
    "a group of stems of checked plots",
    (
        text("group", "Group", "What the row is of: all, crew, instrument, class or band.", CHECK_GROUPS),
        text("value", "Value", "Which crew, instrument (of the crew), class or band (by the check)."),
        count("n_pairs", "Pairs", "Stems that both measured."),
        count(
            "n_by_size",
            "Pairs by size",
            "Pairs found by size among them; of these the scatter comes out too small.",
        ),
        number("n_tallied", "Tallied", "", "Stems that the crew tallied and the check measured."),
        number(
            "n_same_class", "Same class", "", "Pairs and tallied stems that both put in one class or band."
        ),
        count("n_species_differ", "Other species", "Pairs with two different species."),
        number("n_missed", "Missed", "", "Stems only the check found; missing for instruments."),
        number("n_extra", "Extra", "", "Stems only the crew found."),
        number("bias_mm", "Mean difference", "mm", "Mean of crew less check; missing without pairs."),
        number("bias_low_mm", "Mean difference, lower limit", "mm", "By Student's t; missing with one pair."),
        number(
            "bias_high_mm", "Mean difference, upper limit", "mm", "By Student's t; missing with one pair."
        ),
        number("sd_mm", "Scatter", "mm", "Standard deviation of the differences; missing with one pair."),
        number("agreement_low_mm", "Limit of agreement, lower", "mm", "Mean difference less 1.96 sd_mm."),
        number("agreement_high_mm", "Limit of agreement, upper", "mm", "Mean difference plus 1.96 sd_mm."),
        number(
            "within_pct", "Within tolerance", "%", "Share of pairs within the tolerance; missing without."
        ),
        number(
            "basal_area_first_order_pct",
            "Basal area, by the mean difference",
            "%",
            "What the mean difference does to basal area: twice the mean difference over the mean diameter.",
        ),
        number(
            "basal_area_pct",
            "Basal area, of the pairs",
            "%",
            "Basal area of the pairs by the crew over that by the check, less 100 %; missing without pairs.",
        ),
        text(
            "status",
            "Status",
            "estimated, one pair (no interval, no scatter) or no pairs (no difference).",
            CHECK_STATUS,
        ),
    ),
    key=("group", "value"),
)
BAND_CONFUSION_RESULTS = Table(
    "band_confusion",
    "Check measurements, classes and bands confused",
    "a class or band by the crew and one by the check",
    (
        text("crew", "Crew", "Who measured or tallied; missing where not known."),
        text("basis", "Basis", "pairs of measured stems, or counts of plots that were tallied.", CHECK_BASIS),
        text("class", "Class by the crew", "Size class, or class or band tallied; missing where missed."),
        text("check_class", "Class by the check", "Size class or band by the check; missing where extra."),
        number("n_stems", "Stems", "", "Stems that the crew put in the one and the check in the other."),
    ),
    key=("crew", "basis", "class", "check_class"),
)

RESULT_TABLES: tuple[Table, ...] = (
    COMPARTMENT_RESULTS,
    PLOT_RESULTS,
    TREE_RESULTS,
    TALLIED_RESULTS,
    INSTRUMENT_LOG_RESULTS,
    SECTION_EFFECT_RESULTS,
    CLASS_RESULTS,
    CLASS_TOTAL_RESULTS,
    SPECIES_TOTAL_RESULTS,
    STRATUM_RESULTS,
    SURVEY_RESULTS,
    CLASS_SUM_RESULTS,
    SPECIES_SUM_RESULTS,
    STRUCTURE_RESULTS,
    GRID_ERROR_RESULTS,
    ERROR_PART_RESULTS,
    MODEL_BASED_RESULTS,
    HEIGHT_CURVE_RESULTS,
    STAND_DENSITY_RESULTS,
    VOLUME_RESULTS,
    VOLUME_EQUATION_RESULTS,
    CHECK_DIFFERENCE_RESULTS,
    CHECK_SUMMARY_RESULTS,
    BAND_CONFUSION_RESULTS,
    FINDING_RESULTS,
    LEDGER_RESULTS,
)
"""Every result, in the order in which they are written."""
