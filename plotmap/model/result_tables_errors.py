"""The tables plotmap writes about its own errors, declared."""

from __future__ import annotations

from plotmap.model.columns import Column, Kind, Table, count, text
from plotmap.model.result_words import (
    GRID_COMPARISONS,
    GRID_STATUS,
    HELPS_MOST,
    LIKES,
    MODEL_METHODS,
    MODEL_STATUS,
    SCOPES,
)

ESTIMATED = "estimated"
NOT_ON_A_GRID = "not on one grid"
WITHOUT_POSITION = "plots without a position"
TOO_FEW_PLOTS = "too few plots"
FEW_NEIGHBOURS = "too few neighbours"
SINGLE_PLOT = "a compartment has one plot"
COUNTED = "full count"
"""Words of ``status``."""
ABOUT_THE_SAME, SMALLER, LARGER = "about the same", "smaller on the grid", "larger on the grid"
"""Words of ``comparison``."""

_MISSING = "missing where status says why"


def _per_ha(name: str, title: str, unit: str) -> tuple[Column, ...]:
    """Declare the two standard errors of one figure."""
    return (
        Column(
            f"{name}_se",
            Kind.NUMBER,
            f"{title}, standard error, random",
            f"Standard error of {name} as in the other tables: as if plots were placed at random; missing as there.",
            unit=unit,
        ),
        Column(
            f"{name}_se_local",
            Kind.NUMBER,
            f"{title}, standard error, local differences",
            f"Standard error of {name} from differences between neighbours on the grid; {_MISSING}.",
            unit=unit,
        ),
    )


def _part(suffix: str, title: str, meaning: str) -> Column:
    """Declare one part of the standard error of basal area."""
    return Column(f"basal_area_m2_per_ha_se{suffix}", Kind.NUMBER, title, meaning, unit="m²/ha")


GRID_ERROR_RESULTS = Table(
    "grid_errors",
    "Errors on the grid",
    "the survey, a stratum or a compartment",
    (
        text("scope", "Of", "survey, stratum or compartment.", SCOPES),
        text("name", "Name", "Which stratum or compartment; missing for the survey."),
        count("n_plots", "Plots", "Plots that entered the estimate."),
        count(
            "n_with_neighbours",
            "Plots with neighbours",
            "Plots with another one of the same scope beside them on the grid; missing without a grid.",
        ),
        text("grid", "Grid", "Steps and bearing of the grid; missing without one."),
        *_per_ha("stems_per_ha", "Stems", "1/ha"),
        *_per_ha("basal_area_m2_per_ha", "Basal area", "m²/ha"),
        text(
            "comparison",
            "Comparison",
            "Whether the error of basal area by local differences is about the same (within 10 %), smaller or "
            f"larger; {_MISSING}.",
            GRID_COMPARISONS,
        ),
        text(
            "status",
            "Status",
            "estimated, or why there is no error by local differences: not on one grid, plots without a position, "
            "too few plots (fewer than 10), too few neighbours (fewer than half of the plots), a compartment has one "
            "plot, full count.",
            GRID_STATUS,
        ),
    ),
    key=("scope", "name"),
)

MORE_PLOTS, BETTER_INSTRUMENT, MEASURE = "more plots", "a better instrument", "measuring what is tallied"
"""Words of ``helps_most``."""

ERROR_PART_RESULTS = Table(
    "error_parts",
    "What the error is made of",
    "the survey, a stratum or a compartment with an error",
    (
        text("scope", "Of", "survey, stratum or compartment.", SCOPES),
        text("name", "Name", "Which stratum or compartment; missing for the survey."),
        count("n_plots", "Plots", "Plots that entered the estimate."),
        _part("", "Standard error", "As in the other tables: from the differences between plots."),
        _part(
            "_between_plots",
            "Standard error, between plots",
            "What would be left of it with perfect readings: only more plots make it smaller.",
        ),
        _part(
            "_readings",
            "Standard error, single readings",
            "Random errors of single readings, which are part of the differences between plots; missing where no "
            "instrument's random error is known.",
        ),
        _part(
            "_checks",
            "Standard error, checks",
            "Random errors of the readings of zero and bar that many stems were corrected by: plots do not show "
            "them, so they come on top; missing where no instrument's random error is known.",
        ),
        _part(
            "_grouping",
            "Standard error, tallies",
            "That a tallied stem may be any size within its class or band: plots do not show it, so it comes on top; "
            "0 without tallies.",
        ),
        _part(
            "_all",
            "Standard error, all parts",
            "Of the differences between plots, checks and tallies together.",
        ),
        Column(
            "known_pct",
            Kind.NUMBER,
            "Instrument known",
            "Share of the measured basal area whose instrument has a known random error; missing without any.",
            unit="%",
        ),
        Column(
            "target_error_pct", Kind.NUMBER, "Target", "Sampling error that the settings ask for.", unit="%"
        ),
        count(
            "n_plots_needed",
            "Plots needed",
            "Plots, laid out alike, that would reach the target; missing where error or basal area is 0.",
        ),
        count("n_plots_more", "More plots", "Plots needed less plots there are, 0 or more."),
        text(
            "helps_most",
            "What helps most",
            "more plots, a better instrument or measuring what is tallied: the largest part; missing without error.",
            HELPS_MOST,
        ),
    ),
    key=("scope", "name"),
)

MODEL_BASED, TOO_FEW_COMPARTMENTS = "model-based", "too few compartments"
"""Words of ``status`` of compartments estimated by a model."""


def _modelled(name: str, title: str, unit: str) -> tuple[Column, ...]:
    """Declare one figure estimated by the model."""
    missing = "missing where status says too few compartments"
    return (
        Column(name, Kind.NUMBER, title, f"Estimate by the model; {missing}.", unit=unit),
        Column(
            f"{name}_se",
            Kind.NUMBER,
            f"{title}, standard error",
            f"Root of its mean squared error; {missing}.",
            unit=unit,
        ),
        Column(
            f"{name}_low",
            Kind.NUMBER,
            f"{title}, lower limit",
            f"By t, never below zero; {missing}.",
            unit=unit,
        ),
        Column(f"{name}_high", Kind.NUMBER, f"{title}, upper limit", f"By t; {missing}.", unit=unit),
        Column(
            f"{name}_own_share",
            Kind.NUMBER,
            f"{title}, share of its own plot",
            "Weight of the compartment's own plot, 0 to 1; 0 where the estimate is synthetic.",
        ),
    )


MODEL_BASED_RESULTS = Table(
    "model_based",
    "Compartments estimated by a model",
    "a compartment with one plot or none, where the settings ask for it",
    (
        text("compartment", "Compartment", "Identifier of the compartment."),
        text("stratum", "Stratum", "Group the compartment belongs to."),
        count("n_plots", "Plots", "Plots that entered: 0 or 1."),
        text(
            "method",
            "Method",
            "synthetic (the mean of its likes) or composite (that mean and its own plot, each by its variance).",
            MODEL_METHODS,
        ),
        text("likes", "Likes", "stratum or survey: the compartments that lend their mean.", LIKES),
        count("n_likes", "Number of likes", "Compartments with plots among them."),
        *_modelled("stems_per_ha", "Stems", "1/ha"),
        *_modelled("basal_area_m2_per_ha", "Basal area", "m²/ha"),
        text(
            "status",
            "Status",
            "model-based: right only as far as the compartment is like the others. Or too few compartments: fewer "
            "than three have plots.",
            MODEL_STATUS,
        ),
    ),
    key=("compartment",),
)
