"""Tables of the structure of the stand: form of the size distribution, classes and species of strata and survey."""

from __future__ import annotations

from plotmap.model.columns import Column, Table, count, number, text
from plotmap.model.result_words import (
    FORMS,
    SCOPES,
    SE_FROM,
    WEIBULLS,
)

REVERSE_J, BELL, TWO_PEAKED, IRREGULAR, NOT_TOLD = "reverse-J", "bell", "two-peaked", "irregular", "not told"
"""Words of ``form``."""
TWO_PARAMETERS, THREE_PARAMETERS = "two parameters", "three parameters"
"""Words of ``weibull_better``."""
BY_PLOTS, BY_STEMS = "plots", "stems"
"""Words of ``se_from``."""


def _with_error(name: str, title: str, unit: str, meaning: str) -> tuple[Column, Column]:
    """Declare a parameter with its standard error."""
    return (
        number(name, title, unit, f"{meaning} Missing without a fit."),
        number(f"{name}_se", f"{title}, standard error", unit, f"Standard error of {name}, as se_from says."),
    )


SCOPE = (
    text("scope", "Scope", "survey, stratum or compartment.", SCOPES),
    text("name", "Name", "Which stratum or compartment; missing for the survey."),
)
SHARE = (
    number(
        "basal_area_share_pct",
        "Share of basal area",
        "%",
        "Basal area of the species in per cent of that of all; missing where there is none at all.",
    ),
    number(
        "basal_area_share_pct_se",
        "Share of basal area, standard error",
        "%",
        "Standard error of basal_area_share_pct; missing where fewer than two plots were measured.",
    ),
)
"""Columns of every table of species."""

STRUCTURE_RESULTS = Table(
    "structure",
    "Form of the size distribution",
    "the survey, a stratum or a compartment",
    (
        *SCOPE,
        count("n_plots", "Plots", "Plots that entered, empty ones too."),
        number("n_trees", "Stems counted", "", "Stems counted on these plots."),
        number(
            "smallest_cm",
            "Smallest diameter counted",
            "cm",
            "Diameter below which stems were not counted, so that the fits leave it open what is there; 0 where "
            "all were. Missing where nothing was fitted.",
        ),
        *_with_error("weibull_shape", "Weibull shape", "", "Shape of the Weibull of two parameters."),
        *_with_error("weibull_scale_cm", "Weibull scale", "cm", "Scale of the Weibull of two parameters."),
        number(
            "weibull_log_likelihood",
            "Weibull, log-likelihood",
            "",
            "At the maximum; weights scaled so that they add up to the stems counted.",
        ),
        *_with_error(
            "weibull3_shape", "Weibull shape, three parameters", "", "Shape where a location is fitted."
        ),
        *_with_error(
            "weibull3_scale_cm", "Weibull scale, three parameters", "cm", "Scale where a location is fitted."
        ),
        *_with_error(
            "weibull3_location_cm", "Weibull location", "cm", "Diameter at which the distribution begins."
        ),
        number(
            "weibull3_log_likelihood",
            "Weibull of three parameters, log-likelihood",
            "",
            "At the maximum; missing without a fit.",
        ),
        text(
            "weibull_better",
            "Better Weibull",
            "two parameters or three parameters, by Akaike's criterion; missing without a fit.",
            WEIBULLS,
        ),
        text(
            "se_from",
            "Standard errors from",
            "plots: from the differences between plots. stems: there are too few plots for that, or every stem "
            "was counted; as if stems had been drawn one by one. Missing without a fit.",
            SE_FROM,
        ),
        number(
            "chi_square",
            "Chi-square",
            "",
            "Of the better Weibull, fitted to the size classes, cells of at least five stems; missing where no "
            "degree of freedom is left, where bands reach over classes, where stems of angle counts and of areas "
            "come together, and where plots differ in their smallest diameter.",
        ),
        count("chi_square_df", "Chi-square, degrees of freedom", "Cells less one less parameters."),
        number(
            "chi_square_p",
            "Chi-square, p-value",
            "",
            "Of chi_square over design_effect: how often a sample of such a distribution fits worse.",
        ),
        number(
            "design_effect",
            "Design effect",
            "",
            "Mean ratio of the variance of class shares to that of stems drawn one by one; at least 1.",
        ),
        number(
            "anderson_darling",
            "Anderson-Darling",
            "",
            "Modified figure of the Weibull of two parameters; only where all stems were measured, count alike "
            "and none was too thin to count.",
        ),
        number(
            "anderson_darling_p",
            "Anderson-Darling, p-value",
            "",
            "As if stems had been drawn one by one.",
        ),
        number(
            "dip",
            "Dip",
            "",
            "Greatest distance of the distribution through the class edges from the nearest one with one peak.",
        ),
        number("dip_p", "Dip, p-value", "", "Upper bound: how often an even distribution has a larger dip."),
        number(
            "q",
            "q ratio",
            "",
            "Stems of a class over those of the next thicker one, by the line through ln(stems per cm) from the "
            "fullest class up; missing with fewer than three classes.",
        ),
        number("q_se", "q ratio, standard error", "", "From the scatter about the line."),
        number("q_class_width_cm", "q ratio, class width", "cm", "Width of diameter that q belongs to."),
        number("q_low_cm", "q ratio, from", "cm", "Lower edge of the fullest class."),
        number("q_high_cm", "q ratio, to", "cm", "Upper edge of the thickest class of the line."),
        count("q_classes", "q ratio, classes", "Classes with stems on the line."),
        number("q_r2", "q ratio, R²", "", "Share of the weighted variation that the line explains."),
        text(
            "form",
            "Form",
            "reverse-J, bell, two-peaked or irregular where a test at 5 % says so; not told where none does; "
            "missing without a fit.",
            FORMS,
        ),
        text(
            "why_missing",
            "Why missing",
            "no plots, fewer than 30 stems, all sizes alike, too few classes, or no maximum (of the likelihood); "
            "missing where there is a fit.",
        ),
    ),
    key=("scope", "name"),
)


def class_sum_results(per_ha_and_totals: tuple[Column, ...], classes: tuple[Column, ...]) -> Table:
    """Declare the size classes of strata and survey, from the columns of the other tables."""
    return Table(
        "class_sums",
        "Size classes of strata and survey",
        "a size class of a stratum or of the survey, all species together",
        (*SCOPE, *classes, *per_ha_and_totals),
        key=("scope", "name", "class"),
    )


def species_sum_results(per_ha_and_totals: tuple[Column, ...], species: Column) -> Table:
    """Declare the species of strata and survey, from the columns of the other tables."""
    return Table(
        "species_sums",
        "Species of strata and survey",
        "a species of a stratum or of the survey, all sizes together",
        (*SCOPE, species, *per_ha_and_totals, *SHARE),
        key=("scope", "name", "species"),
    )
