"""The tables plotmap writes about the change between two surveys, declared."""

from __future__ import annotations

from plotmap.model.columns import Column, Kind, Table, count, number, text
from plotmap.model.result_words import (
    CHANGE_STATUS,
    COMPONENT_STATUS,
    FATES,
    PAIRS,
    SCOPES,
    STEMS_BY,
    TOTAL_SCOPES,
    TOTAL_STATUS,
    VERDICTS,
)

PAIRED, PARTLY_PAIRED, NOT_PAIRED = "paired", "partly paired", "not paired"
ONE_PAIR, COUNTED, NO_PLOTS = "one plot", "full count", "no plots"
BOUNDARY_CHANGED, ONLY_OLD, ONLY_NEW = "boundary changed", "only in the old survey", "only in the new survey"
"""Words of ``status`` of a compartment."""
ESTIMATED, PARTLY = "estimated", "partly"
"""Words of ``status`` of a total."""
PLOT_PAIRED, PLOT_MOVED = "paired", "moved"
PLOT_ONLY_OLD, PLOT_ONLY_NEW, PLOT_ELSEWHERE = "only old", "only new", "other compartment"
"""Words of ``pair``."""
FOLLOWED = "followed"
TALLIED, NOT_NUMBERED, OTHER_AREA, ANGLE_COUNTS = "tallied", "not numbered", "other area", "no fixed area"
"""Words of ``stems_by``: why the stems of a pair cannot be followed one by one."""
SURVIVOR, INGROWTH, DIED, CUT, NOT_FOUND = "survivor", "ingrowth", "died", "cut", "not found again"
"""Words of ``fate``."""
SAME, BROUGHT, DIFFERS = "same", "brought together", "differs"
"""Words of ``verdict``."""


def _change(name: str, title: str, unit: str) -> tuple[Column, ...]:
    """Declare a figure on both occasions and its change with error and limits."""
    missing = "missing where status says why"
    change = f"{name}_change"
    return (
        number(f"{name}_old", f"{title}, old", unit, f"{name} of the old survey; missing without plots."),
        number(f"{name}_new", f"{title}, new", unit, f"{name} of the new survey; missing without plots."),
        number(change, f"{title}, change", unit, f"New less old; {missing}."),
        number(f"{change}_se", f"{title}, change, standard error", unit, f"Of {change}; {missing}."),
        number(f"{change}_low", f"{title}, change, lower limit", unit, f"Of {change}, by t; {missing}."),
        number(f"{change}_high", f"{title}, change, upper limit", unit, f"Of {change}, by t; {missing}."),
    )


_PER_HA = (
    *_change("stems_per_ha", "Stems", "1/ha"),
    *_change("basal_area_m2_per_ha", "Basal area", "m²/ha"),
    number(
        "basal_area_m2_per_ha_change_per_year",
        "Basal area, change per year",
        "m²/ha",
        "Change over the mean number of years between the visits of paired plots; missing where a date is.",
    ),
)
_VISITS = (
    count("n_plots_old", "Plots, old", "Plots that entered the estimate of the old survey."),
    count("n_plots_new", "Plots, new", "Plots that entered the estimate of the new survey."),
    count("n_paired", "Pairs", "Plots of one name and place that entered both."),
    number("years", "Years", "", "Mean time between the two visits of the pairs; missing without dates."),
)

COMPARTMENT_CHANGE_RESULTS = Table(
    "compartment_change",
    "Compartments, change",
    "a compartment of either survey",
    (
        text("compartment", "Compartment", "Identifier of the compartment."),
        text("name", "Name", "Name people use."),
        text("stratum", "Stratum", "Group the compartment belongs to, as in the new survey."),
        number("area_ha_old", "Area, old", "ha", "Area in the old survey; missing where not in it."),
        number("area_ha", "Area", "ha", "Area in the new survey, or in the old one where only there."),
        *_VISITS,
        *_PER_HA,
        text(
            "status",
            "Status",
            "paired, partly paired, not paired (two samples of their own), one plot (no error), full count (no "
            "sampling error), no plots (in one survey), boundary changed, only in the old survey, only in the "
            "new survey; the last four have no change.",
            CHANGE_STATUS,
        ),
    ),
    key=("compartment",),
)
TOTAL_CHANGE_RESULTS = Table(
    "total_change",
    "Strata and survey, change",
    "a stratum, or the whole survey",
    (
        text("scope", "Of", "stratum or survey.", TOTAL_SCOPES),
        text("name", "Name", "Which stratum; missing for the survey."),
        number("area_ha", "Area covered", "ha", "Area of the compartments whose change is known."),
        number("area_left_out_ha", "Area left out", "ha", "Area of the others, in either survey."),
        count("n_compartments", "Compartments", "Compartments whose change is known."),
        count("n_left_out", "Compartments left out", "All others, of either survey."),
        *_VISITS,
        *_PER_HA,
        text("status", "Status", "estimated; partly (a compartment has no error); no plots.", TOTAL_STATUS),
    ),
    key=("scope", "name"),
)
PLOT_CHANGE_RESULTS = Table(
    "plot_change",
    "Sample plots, change",
    "a plot of either survey that entered its estimates, in one compartment",
    (
        text("plot", "Plot", "Identifier of the plot."),
        text("compartment", "Compartment", "Compartment it counts for."),
        text(
            "pair",
            "Pair",
            "paired, moved (too far apart to be one plot), other compartment, only old or only new.",
            PAIRS,
        ),
        number("distance_m", "Distance", "m", "Between the two positions; missing where one is."),
        Column("date_old", Kind.DATE, "Date, old", "Missing where not known or not visited."),
        Column("date_new", Kind.DATE, "Date, new", "Missing where not known or not visited."),
        number("stems_per_ha_old", "Stems, old", "1/ha", "Missing where not visited."),
        number("stems_per_ha_new", "Stems, new", "1/ha", "Missing where not visited."),
        number("basal_area_m2_per_ha_old", "Basal area, old", "m²/ha", "Missing where not visited."),
        number("basal_area_m2_per_ha_new", "Basal area, new", "m²/ha", "Missing where not visited."),
        text(
            "stems_by",
            "Stems",
            "followed, or why they cannot be: tallied, not numbered (or a number twice), other area, no fixed area; "
            "missing where not paired.",
            STEMS_BY,
        ),
    ),
    key=("plot", "compartment"),
)
STEM_CHANGE_RESULTS = Table(
    "stem_change",
    "Stems followed",
    "a stem of a plot whose stems can be followed",
    (
        text("plot", "Plot", "Plot the stem stands on."),
        text("tree", "Tree", "Number of the stem."),
        text("fate", "Fate", "survivor, ingrowth, died, cut or not found again.", FATES),
        text("species_old", "Species, old", "Missing for ingrowth."),
        text("species_new", "Species, new", "Missing where it does not stand any more."),
        number("dbh_cm_old", "Diameter, old", "cm", "Missing for ingrowth."),
        number("dbh_cm_new", "Diameter, new", "cm", "Missing where it does not stand any more."),
        number(
            "growth_cm_per_year", "Growth", "cm", "Of the diameter in a year; only of survivors with dates."
        ),
        count("source_row_old", "Row, old", "Row of the old trees table; missing for ingrowth."),
        count("source_row_new", "Row, new", "Row of the new trees table; missing where not in it."),
    ),
    key=("plot", "tree"),
)


def _component(name: str, title: str, meaning: str) -> tuple[Column, ...]:
    """Declare one component of the change of basal area, with its error."""
    return (
        number(f"{name}_m2_per_ha", title, "m²/ha", f"{meaning} Missing where no stems are followed."),
        number(f"{name}_m2_per_ha_se", f"{title}, standard error", "m²/ha", "Missing below two such plots."),
    )


COMPONENT_RESULTS = Table(
    "growth_components",
    "Components of growth",
    "the survey, a stratum or a compartment with plots whose stems are followed",
    (
        text("scope", "Of", "survey, stratum or compartment.", SCOPES),
        text("name", "Name", "Which stratum or compartment; missing for the survey."),
        count("n_plots", "Plots", "Pairs whose stems are followed."),
        *_component("survivor_growth", "Growth of survivors", "Basal area that survivors put on."),
        *_component("ingrowth", "Ingrowth", "Basal area of stems that were not there or too thin before."),
        *_component("mortality", "Mortality", "Basal area, when last measured alive, of stems that died."),
        *_component("cut", "Cut", "Basal area, when last measured, of stems that were cut."),
        *_component(
            "not_found", "Not found again", "Basal area of stems of the old survey that are not in the new."
        ),
        *_component(
            "net_change", "Net change", "Growth and ingrowth less mortality, cut and not found again."
        ),
        text("status", "Status", "estimated, or one plot (no error).", COMPONENT_STATUS),
    ),
    key=("scope", "name"),
)
COMPARISON_RESULTS = Table(
    "comparison",
    "How the surveys were compared",
    "one setting or property of the two surveys",
    (
        text("item", "Item", "Setting or property."),
        text("old", "Old", "As the old survey has it."),
        text("new", "New", "As the new survey has it."),
        text(
            "verdict",
            "Verdict",
            "same; brought together (the old survey was computed with the value in the last column); differs (it "
            "stays in the change).",
            VERDICTS,
        ),
        text("used", "Used", "The value both were computed with; missing where they differ."),
    ),
    key=("item",),
)
CHANGE_TABLES: tuple[Table, ...] = (
    COMPARTMENT_CHANGE_RESULTS,
    TOTAL_CHANGE_RESULTS,
    PLOT_CHANGE_RESULTS,
    STEM_CHANGE_RESULTS,
    COMPONENT_RESULTS,
    COMPARISON_RESULTS,
)
"""Every result of a comparison but its findings, in the order in which they are written."""
