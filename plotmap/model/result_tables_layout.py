"""The tables of a layout of plots before the field, declared."""

from __future__ import annotations

from plotmap.model.columns import Column, Table, count, number, text
from plotmap.model.result_words import (
    CV_FROM,
    EDGE_TASKS,
    LAYOUT_ROLES,
    LAYOUT_SCOPES,
    PLANNED_STATUS,
    YES_NO,
)

_SIZE = "Plots by which the plan goes; missing where nothing says how many."

PLANNED_PLOT_RESULTS = Table(
    "planned_plots",
    "Planned plots",
    "a plot to be visited, or a reserve plot",
    (
        text("plot", "Plot", "Name of the plot: P and a number, R and a number for reserve plots."),
        text("role", "Role", "main or reserve.", LAYOUT_ROLES),
        text("compartment", "Compartment", "Compartment its centre lies in."),
        text("stratum", "Stratum", "Stratum of that compartment."),
        count(
            "day", "Day", "Day of the walk; missing for reserve plots and where no plots per day are stated."
        ),
        count(
            "order",
            "Order",
            "Place in the walk of the day; of reserve plots, which of their stratum is taken first. Missing where no "
            "plots per day are stated.",
        ),
        number("easting", "Easting", "m", "Of the plot centre, in the CRS of the survey."),
        number("northing", "Northing", "m", "Of the plot centre, in the CRS of the survey."),
        number("lon", "Longitude", "°", "Of the plot centre, degrees east on WGS 84."),
        number("lat", "Latitude", "°", "Of the plot centre, degrees north on WGS 84."),
        number("radius_m", "Radius", "m", "Of the widest circle; missing for designs without one."),
        number(
            "share_inside",
            "Share inside",
            "",
            "Of the circle in its compartment; missing for designs without one.",
        ),
        text(
            "touches_boundary", "Touches boundary", "yes or no; missing for designs without a radius.", YES_NO
        ),
        text("edge_task", "Task at the edge", "What the crew does there, by [plots] edge.", EDGE_TASKS),
        number(
            "density_per_ha",
            "Density",
            "1/ha",
            "Plots a hectare that the design expects there: its inclusion density. Missing for reserve plots.",
        ),
    ),
    key=("plot",),
)


def _numbers(what: str) -> tuple[Column, ...]:
    """Declare the columns that strata and compartments have in common."""
    return (
        number("n_wanted", "Plots wanted", "", f"Plots that {what} gets on average over all starts. {_SIZE}"),
        count(
            "n_planned", "Plots planned", "Main plots that were laid out; a grid gives a number by chance."
        ),
        count("n_reserve", "Reserve plots", "Reserve plots that were laid out."),
        number(
            "error_pct",
            "Sampling error expected",
            "%",
            "Half the confidence interval over the mean at the plots planned; missing below two plots, and where the "
            "variation is not known.",
        ),
    )


SAMPLE_SIZE_RESULTS = Table(
    "sample_sizes",
    "How many plots",
    "the survey, a stratum, or the compartment of median net area",
    (
        text("scope", "Of", "survey, stratum or median compartment.", LAYOUT_SCOPES),
        text("name", "Name", "Which stratum or compartment; missing for the survey."),
        number("area_ha", "Net area", "ha", "On the ellipsoid, less what is excluded."),
        number(
            "n_fitting", "Plots that cover it", "", "Net area over that of a plot; missing for angle counts."
        ),
        number(
            "cv_pct",
            "Coefficient of variation",
            "%",
            "Standard deviation between plots over their mean: of the survey within its strata, of a compartment "
            "within it. Missing where not known.",
        ),
        text("cv_from", "Variation from", "Where the coefficient comes from.", CV_FROM),
        number("target_error_pct", "Target error", "%", "[estimates] target_error_pct; of the survey only."),
        number(
            "n_for_target", "Plots for the target", "", "Of the survey, and what falls to each part of it."
        ),
        number(
            "n_from_crew_days",
            "Plots of the crew-days",
            "",
            "Crew-days times plots per day, and what falls to each.",
        ),
        number(
            "error_from_crew_days_pct",
            "Error of the crew-days",
            "%",
            "Sampling error that these plots will give.",
        ),
        *_numbers("it"),
        number("density_per_ha", "Density planned", "1/ha", "Plots planned over net area."),
        number("spacing_m", "Spacing planned", "m", "Side of the square that each plot planned stands for."),
    ),
    key=("scope", "name"),
)
PLANNED_COMPARTMENT_RESULTS = Table(
    "planned_compartments",
    "Compartments and their planned plots",
    "a compartment",
    (
        text("compartment", "Compartment", "Identifier of the compartment."),
        text("name", "Name", "Name people use."),
        text("stratum", "Stratum", "Stratum the compartment belongs to."),
        number("area_ha", "Net area", "ha", "On the ellipsoid, less what is excluded."),
        number("excluded_ha", "Excluded", "ha", "What [layout] exclude takes off it."),
        *_numbers("it"),
        text("status", "Status", "Whether it has as many plots as [layout] enough_plots.", PLANNED_STATUS),
    ),
    key=("compartment",),
)
WALK_RESULTS = Table(
    "walks",
    "Days and their walks",
    "a day of one crew",
    (
        count("day", "Day", "Number of the day."),
        count("n_plots", "Plots", "Main plots of the day."),
        number(
            "walk_km_by_name",
            "Walk by name",
            "km",
            "Straight lines from plot to plot in the order of their names.",
        ),
        number(
            "walk_km",
            "Walk",
            "km",
            "Straight lines in the order given, with the way from and to the start if stated.",
        ),
    ),
    key=("day",),
)
LAYOUT_DESIGN_RESULTS = Table(
    "layout_design",
    "What the layout was made by",
    "a setting, a number that was drawn, or an input file",
    (
        text("item", "Item", "What it is."),
        text("value", "Value", "Its value, with all its digits."),
    ),
    key=("item",),
)
LAYOUT_TABLES: tuple[Table, ...] = (
    PLANNED_PLOT_RESULTS,
    PLANNED_COMPARTMENT_RESULTS,
    SAMPLE_SIZE_RESULTS,
    WALK_RESULTS,
    LAYOUT_DESIGN_RESULTS,
)
"""Every result of a layout but its findings, in the order in which they are written."""
