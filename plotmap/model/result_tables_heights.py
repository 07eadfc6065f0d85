"""The tables of heights, density and volume, declared."""

from __future__ import annotations

from plotmap.model.columns import Column, Kind, Table, number, text
from plotmap.model.result_words import (
    BOTH_STATUS,
    CURVE_FORMS,
    CURVE_STATUS,
    HEIGHTS,
    OVER_UNDER,
    SCOPES,
    VOLUME_STATUS,
)

ALL_SPECIES = "all species"
"""Row of all species together."""
FITTED, TOO_FEW_HEIGHTS, NO_RISE = "fitted", "too few heights", "no rising curve"
"""Words of ``status`` of a height curve."""
ALL_MEASURED, FROM_CURVES, NO_HEIGHTS, NO_CURVE = "all measured", "from curves", "no heights", "no curve"
"""Words of ``heights``."""
NO_STEMS, NO_EQUATION, NOT_ABOVE_ZERO = "no stems", "no equation", "equation gives none"
"""More words of ``heights`` and of ``status`` of a volume."""

_ERROR = "standard error from plot to plot; that of the height curves is not in it"


def _with_error(name: str, title: str, unit: str, meaning: str, *, error: str) -> tuple[Column, ...]:
    """Declare a figure with its standard error."""
    return (
        number(name, title, unit, meaning),
        number(
            f"{name}_se",
            f"{title}, standard error",
            unit,
            f"Of {name}: {error}. Missing where a compartment has one plot.",
        ),
    )


_SCOPE = (
    text("scope", "Of", "survey, stratum or compartment.", SCOPES),
    text("name", "Name", "Which stratum or compartment; missing for the survey."),
)

HEIGHT_CURVE_RESULTS = Table(
    "height_curves",
    "Height curves",
    "a species with stems, or all species together; no rows where no height was measured",
    (
        text(
            "species",
            "Species",
            f"Species, or the group that the species table reports it with; '{ALL_SPECIES}' for the curve of all.",
        ),
        Column(
            "n_pairs", Kind.COUNT, "Pairs", "Live stems with a diameter and a height above breast height."
        ),
        number("dbh_low_cm", "Smallest diameter", "cm", "Of these stems; missing without."),
        number("dbh_high_cm", "Largest diameter", "cm", "Of these stems; missing without."),
        text(
            "form",
            "Form",
            "naslund: h = bh + d² / (a + b d)²; michailow: h = bh + a exp(−b / d); bh is breast height, h in m, d in "
            "cm. The one of smaller AIC. Missing without a curve.",
            CURVE_FORMS,
        ),
        number("a", "a", "", "Parameter (naslund: cm/√m; michailow: m); missing without a curve."),
        number("a_se", "a, standard error", "", "Standard error of a; missing without a curve."),
        number("b", "b", "", "Parameter (naslund: 1/√m; michailow: cm); missing without a curve."),
        number("b_se", "b, standard error", "", "Standard error of b; missing without a curve."),
        number(
            "residual_sd_m",
            "Scatter",
            "m",
            "Standard deviation of heights about the curve; missing without a curve.",
        ),
        number(
            "aic_naslund",
            "AIC, naslund",
            "",
            "Akaike's criterion; missing where that form has no rising fit.",
        ),
        number(
            "aic_michailow",
            "AIC, michailow",
            "",
            "Akaike's criterion; missing where that form has no rising fit.",
        ),
        number("n_from_curve", "Stems", "", "Stems counted that took their height from this curve."),
        number(
            "n_outside_range",
            "Stems outside the range",
            "",
            "Of these, stems thinner or thicker than all it was fitted to: their heights are extrapolated.",
        ),
        text(
            "status",
            "Status",
            "fitted; too few heights or no rising curve: then the stems take the curve of all species, if any.",
            CURVE_STATUS,
        ),
    ),
    key=("species",),
)

STAND_DENSITY_RESULTS = Table(
    "stand_density",
    "Heights and density",
    "the survey, a stratum or a compartment",
    (
        *_SCOPE,
        Column(
            "n_plots", Kind.COUNT, "Plots", "Plots that entered, empty ones too; of compartments with plots."
        ),
        *_with_error(
            "lorey_height_m",
            "Lorey's mean height",
            "m",
            "Σ g h / Σ g over live stems; missing without stems, and where a stem has neither height nor curve.",
            error=_ERROR,
        ),
        *_with_error(
            "top_height_m",
            "Top height",
            "m",
            "Mean height of the 100 thickest live stems per hectare, taken plot by plot; missing without stems, and "
            "where one of them has neither height nor curve.",
            error=_ERROR,
        ),
        Column(
            "n_plots_short",
            Kind.COUNT,
            "Plots with fewer than 100",
            "Plots with live stems, but fewer than 100 per hectare: their top height is that of all of them.",
        ),
        number("n_height_measured", "Heights measured", "", "Live stems counted that have a height."),
        number("n_height_curve", "Heights from curves", "", "Live stems counted with a height from a curve."),
        number(
            "n_height_outside",
            "Heights outside the range",
            "",
            "Of these, stems outside the diameters that the curve was fitted to.",
        ),
        number("n_height_missing", "Heights missing", "", "Live stems counted with neither."),
        text(
            "heights",
            "Heights",
            "all measured; from curves (some or all); no heights (none measured in the survey); no curve (some stems "
            "have neither height nor curve); no stems; no plots.",
            HEIGHTS,
        ),
        *_with_error(
            "reineke_index",
            "Reineke's index",
            "1/ha",
            "N (dg / D)^k, of stems per hectare and the quadratic mean diameter; missing without stems.",
            error="standard error from plot to plot",
        ),
        *_with_error(
            "reineke_sum",
            "Reineke's index, summed",
            "1/ha",
            "Σ (d / D)^k per hectare, stem by stem; missing without plots.",
            error="standard error from plot to plot",
        ),
        *_with_error(
            "relative_density_pct",
            "Relative density",
            "%",
            "Reineke's index, summed, each stem over the maximum of its species; missing where the settings give no "
            "maximum for a species.",
            error="standard error from plot to plot; the maxima are taken as they stand",
        ),
        *_with_error(
            "curtis_density",
            "Curtis' relative density",
            "m²/ha/√cm",
            "Basal area over the root of the quadratic mean diameter; missing without stems. Not that of feet and "
            "inches, which is 6.94 times as large.",
            error="standard error from plot to plot",
        ),
        *_with_error(
            "relative_spacing_pct",
            "Relative spacing",
            "%",
            "√(10 000 / N) over top height; missing where top height is.",
            error=_ERROR,
        ),
        text(
            "status",
            "Status",
            "estimated, one plot (no errors), no plots (no figures), full count (no errors of sampling), partly (a "
            "compartment has one plot: no errors).",
            BOTH_STATUS,
        ),
    ),
    key=("scope", "name"),
)

_MISSING = "missing where status says why"


def _estimate(name: str, title: str, unit: str, meaning: str) -> tuple[Column, ...]:
    """Declare an estimate with its standard error and limits."""
    return (
        number(name, title, unit, f"{meaning} {_MISSING[0].upper()}{_MISSING[1:]}."),
        number(
            f"{name}_se",
            f"{title}, standard error",
            unit,
            f"Of {name}, from plot to plot; the errors of equations and height curves are not in it. Missing also "
            "where a compartment has one plot.",
        ),
        number(
            f"{name}_low",
            f"{title}, lower limit",
            unit,
            f"Lower confidence limit of {name}; missing as the error.",
        ),
        number(
            f"{name}_high",
            f"{title}, upper limit",
            unit,
            f"Upper confidence limit of {name}; missing as the error.",
        ),
    )


VOLUME_RESULTS = Table(
    "volumes",
    "Volume",
    "a species, or all, of the survey, a stratum or a compartment; no rows where neither settings nor species table "
    "say how",
    (
        *_SCOPE,
        text("species", "Species", f"Species or group; '{ALL_SPECIES}' for all together."),
        number("n_trees", "Stems counted", "", "Stems counted on the plots."),
        *_estimate("volume_m3_per_ha", "Volume", "m³/ha", "Stem volume per hectare by the user's equations."),
        *_estimate("volume_m3_total", "Volume, total", "m³", "The same on the whole area."),
        number("n_height_curve", "Heights from curves", "", "Stems counted whose height came from a curve."),
        number(
            "n_outside_range",
            "Stems outside the range",
            "",
            "Stems counted with a diameter or height outside the range of their equation; their volumes are in.",
        ),
        number(
            "n_without_volume", "Stems without volume", "", "Stems counted that no volume can be given for."
        ),
        text(
            "status",
            "Status",
            "estimated, one plot (no error), no plots, full count (no error of sampling), partly (a compartment has "
            "one plot: no error); no equation, no heights, no curve or equation gives none (for some stems, so that "
            "there is no figure).",
            VOLUME_STATUS,
        ),
    ),
    key=("scope", "name", "species"),
)

VOLUME_EQUATION_RESULTS = Table(
    "volume_equations",
    "Volume equations",
    "an equation of the settings, or a form factor of the species table",
    (
        text("species", "Species", "Species or group of the equation; * for all others."),
        text(
            "equation",
            "Equation",
            "The equation with its coefficients: v in m³, d in cm, h in m, g in m².",
        ),
        number("dbh_low_cm", "Smallest diameter", "cm", "Of its range; missing for the species table's."),
        number("dbh_high_cm", "Largest diameter", "cm", "Of its range; missing for the species table's."),
        number("height_low_m", "Smallest height", "m", "Of its range; missing where it has none."),
        number("height_high_m", "Largest height", "m", "Of its range; missing where it has none."),
        text("bark", "Diameter", "Whether it takes diameters over or under bark.", OVER_UNDER),
        text(
            "volume_bark",
            "Volume",
            "Whether its volume is over or under bark; missing where not known.",
            OVER_UNDER,
        ),
        text("source", "Source", "Where it comes from, as the settings say; else the species table."),
        number("n_trees", "Stems counted", "", "Stems counted that it was used for."),
        number(
            "n_outside_range", "Stems outside the range", "", "Of these, with diameter or height outside it."
        ),
        number(
            "n_without_volume",
            "Stems without volume",
            "",
            "Of these, without a height or with a volume that is not above zero: no volume is given.",
        ),
    ),
    key=("species", "equation"),
)
