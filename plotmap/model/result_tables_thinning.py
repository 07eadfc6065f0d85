"""The tables of thinning proposals, declared: of compartments, and of what is taken from each class."""

from __future__ import annotations

from plotmap.model.columns import Column, Kind, Table, count, number, text
from plotmap.model.result_tables_heights import NO_HEIGHTS
from plotmap.model.result_words import VOLUME_STATUS

LIKELY, UNLIKELY, CANNOT_TELL = "likely", "unlikely", "cannot tell"
"""Words of ``candidate``."""
CANDIDATES = {
    LIKELY: "The probability that the criterion is met is likely_from of the settings or more.",
    UNLIKELY: "It is unlikely_to of the settings or less.",
    CANNOT_TELL: "It is between them: measure n_plots_more more plots.",
}
PROPOSED, NO_RULE, TOO_FEW_PLOTS, NOTHING_TO_CUT = "proposed", "no rule", "too few plots", "nothing to cut"
NO_MAXIMUM = "no largest index"
"""Words of ``status``."""
PROPOSAL_STATUS = {
    PROPOSED: "A removal is proposed.",
    UNLIKELY: "The criterion is probably not met: nothing is proposed.",
    CANNOT_TELL: "The plots do not tell whether the criterion is met: nothing is proposed.",
    NOTHING_TO_CUT: "The criterion is met, but the residual or a limit leaves nothing to cut.",
    TOO_FEW_PLOTS: "There are fewer plots than the rule asks for: never proposed.",
    NO_HEIGHTS: "The rule is about relative spacing, but no top height is known.",
    NO_MAXIMUM: "The rule is about relative density, but a species has no largest index in the settings.",
    NO_RULE: "No rule is for the compartment or its stratum.",
}
RESIDUAL, AT_RESIDUAL, NOTHING_LEFT = "residual reached", "at the residual already", "nothing more may be cut"
LARGEST_SHARE, SMALLEST_BASAL_AREA, SMALLEST_STEMS = (
    "largest share of a visit",
    "smallest basal area",
    "smallest number of stems",
)
"""Words of ``limit``."""
LIMITS = {
    RESIDUAL: "The removal ends where the rule wants it to.",
    AT_RESIDUAL: "The stand is at the residual or below it.",
    LARGEST_SHARE: "largest_share_pct stopped the removal before the residual: a second visit is needed.",
    SMALLEST_BASAL_AREA: "smallest_basal_area_m2_per_ha stopped it before.",
    SMALLEST_STEMS: "smallest_stems_per_ha stopped it before.",
    NOTHING_LEFT: "All that may be cut is cut: rows, surplus, or all but what must stay.",
}
BY_T, BY_BOOTSTRAP, BY_COUNT = "t", "bootstrap", "full count"
"""Words of ``probability_by``."""
PROBABILITIES = {
    BY_T: "Student's t with the degrees of freedom of the compartment.",
    BY_BOOTSTRAP: "The share of the bootstrap draws of its plots that meet the criterion.",
    BY_COUNT: "The compartment was counted whole: the answer has no sampling error.",
}
_WHY_MISSING = "Missing where nothing is proposed."
_RANGE = "of the bootstrap of the plots, at the confidence of the survey"


def _ranged(name: str, title: str, unit: str, meaning: str) -> tuple[Column, ...]:
    """Declare a figure of a proposal with its range."""
    return (
        number(name, title, unit, f"{meaning} {_WHY_MISSING}"),
        number(f"{name}_low", f"{title}, lower end", unit, f"Lower end of {name} {_RANGE}. {_WHY_MISSING}"),
        number(f"{name}_high", f"{title}, upper end", unit, f"Upper end of {name} {_RANGE}. {_WHY_MISSING}"),
    )


PROPOSAL_RESULTS = Table(
    "proposals",
    "Thinning proposals",
    "a compartment, also one without a rule",
    (
        text("compartment", "Compartment", "Identifier of the compartment."),
        text("name", "Name", "Name people use."),
        text("stratum", "Stratum", "Its stratum."),
        number("area_ha", "Area", "ha", "Gross area of the compartment."),
        number(
            "net_area_ha",
            "Net area",
            "ha",
            "Area that may be worked, over which totals are taken; the gross area where nothing is excluded.",
        ),
        count("n_plots", "Plots", "Plots that the proposal rests on."),
        Column(
            "measured_from", Kind.DATE, "First day", "Of the measurements; missing where no plot has a date."
        ),
        Column(
            "measured_to", Kind.DATE, "Last day", "Of the measurements; missing where no plot has a date."
        ),
        text(
            "rule",
            "Rule",
            "Rule that was followed, the compartment's own before its stratum's; missing without.",
        ),
        text(
            "rule_text",
            "What the rule says",
            "Every part of the rule in words, also the limits that it does not set; missing without a rule.",
        ),
        text("rule_source", "Source of the rule", "As the rule gives it; missing where it does not."),
        text("criterion", "Criterion", "What calls for thinning; missing without a rule."),
        text("criterion_unit", "Unit of the criterion", "Of the next three columns; missing without a rule."),
        number(
            "criterion_estimate",
            "Estimate of the criterion",
            "",
            "In criterion_unit; missing where not known.",
        ),
        number(
            "criterion_se",
            "Standard error of the criterion",
            "",
            "In criterion_unit; missing where not known.",
        ),
        number("trigger", "Trigger", "", "In criterion_unit; missing without a rule."),
        number(
            "probability",
            "Probability that thinning is due",
            "",
            "That the criterion is met, 0 to 1; missing where it cannot be told.",
        ),
        text("probability_by", "Probability by", "How it was computed; missing with it.", PROBABILITIES),
        text("candidate", "Candidate", "What the probability says; missing with it.", CANDIDATES),
        count(
            "n_plots_more",
            "Plots to measure",
            "Plots more that would tell, if mean and spread stay as they are; missing where candidate is not 'cannot "
            "tell', and where the estimate lies so near the trigger that more than 10 000 would be needed.",
        ),
        text("status", "Status", "What came of it.", PROPOSAL_STATUS),
        text("kind", "Kind of removal", "As the rule has it; missing without a rule."),
        text("limit", "Limit", f"What ended the removal. {_WHY_MISSING}", LIMITS),
        text("residual_unit", "Unit of the residual", "Of the next two columns; missing without a residual."),
        number("residual", "Residual of the rule", "", "In residual_unit; missing without one."),
        number("residual_reached", "Residual reached", "", f"What stays, in residual_unit. {_WHY_MISSING}"),
        number("basal_area_m2_per_ha", "Basal area before", "m²/ha", "Missing where not known."),
        number("stems_per_ha", "Stems before", "1/ha", "Missing where not known."),
        *_ranged("cut_basal_area_m2_per_ha", "Basal area to cut", "m²/ha", "What is taken."),
        *_ranged("cut_stems_per_ha", "Stems to cut", "1/ha", "What is taken."),
        *_ranged("after_basal_area_m2_per_ha", "Basal area after", "m²/ha", "What stays."),
        *_ranged("after_stems_per_ha", "Stems after", "1/ha", "What stays."),
        *_ranged("basal_area_cut_pct", "Share of basal area cut", "%", "Weight of the thinning."),
        *_ranged("stems_cut_pct", "Share of stems cut", "%", "Of the stems before."),
        number(
            "thinning_ratio",
            "Thinning ratio k",
            "",
            "Mean basal area of a stem cut over that of a stem before: share of basal area over share of stems; "
            f"below 1 from below, 1 systematic, above 1 from above. {_WHY_MISSING}",
        ),
        number(
            "dg_ratio",
            "Ratio of mean diameters",
            "",
            f"Quadratic mean diameter of stems cut over that of stems before, √k. {_WHY_MISSING}",
        ),
        number(
            "mean_dbh_ratio",
            "Ratio of arithmetic mean diameters",
            "",
            f"Of stems cut over stems before. {_WHY_MISSING}",
        ),
        number(
            "shortfall_m2_per_ha",
            "Shortfall",
            "m²/ha",
            "Basal area by which cutting every surplus of a target distribution would go below the residual, because "
            "classes in deficit stay as they are; missing for other kinds.",
        ),
        number(
            "given_back_pct",
            "Surplus given back",
            "%",
            "Share of the surplus that is not cut, so that neither residual nor limits are passed; missing for other "
            "kinds.",
        ),
        number(
            "deficit_stems_per_ha",
            "Deficit",
            "1/ha",
            "Stems that classes of a target distribution lack; missing for other kinds.",
        ),
        *_ranged(
            "cut_volume_m3_per_ha", "Volume to cut", "m³/ha", "What is taken, where every stem has a volume."
        ),
        text(
            "volume_status",
            "Status of the volume",
            "As table volumes has it for all species; missing without a proposal.",
            VOLUME_STATUS,
        ),
        count("cut_stems_total", "Stems to mark", f"Whole stems on the net area. {_WHY_MISSING}"),
        number(
            "cut_basal_area_m2_total", "Basal area to cut, total", "m²", f"On the net area. {_WHY_MISSING}"
        ),
        number("cut_volume_m3_total", "Volume to cut, total", "m³", f"On the net area. {_WHY_MISSING}"),
        text(
            "cautions", "Cautions", "What to look at before anything is marked; missing without a proposal."
        ),
    ),
    key=("compartment",),
)

REMOVAL_RESULTS = Table(
    "removals",
    "Removals by class and species",
    "a species and size class of a compartment that is proposed, also one that nothing is taken of",
    (
        text("compartment", "Compartment", "Identifier of the compartment."),
        text("species", "Species", "Species, or the group that the species table reports it with."),
        text("class", "Class", "Size class."),
        number("low_cm", "Lower edge", "cm", "Of the class; missing where it is open."),
        number("high_cm", "Upper edge", "cm", "Of the class; missing where it is open."),
        number("stems_per_ha", "Stems before", "1/ha", "Of the class and species."),
        number("cut_stems_per_ha", "Stems to cut", "1/ha", "What is taken."),
        number("cut_stems_per_ha_low", "Stems to cut, lower end", "1/ha", f"Lower end {_RANGE}."),
        number("cut_stems_per_ha_high", "Stems to cut, upper end", "1/ha", f"Upper end {_RANGE}."),
        number("after_stems_per_ha", "Stems after", "1/ha", "What stays."),
        number("basal_area_m2_per_ha", "Basal area before", "m²/ha", "Of the class and species."),
        number("cut_basal_area_m2_per_ha", "Basal area to cut", "m²/ha", "What is taken."),
        number("after_basal_area_m2_per_ha", "Basal area after", "m²/ha", "What stays."),
        number(
            "cut_volume_m3_per_ha",
            "Volume to cut",
            "m³/ha",
            "Missing where a stem of the compartment has no volume.",
        ),
        number("may_be_cut_pct", "May be cut", "%", "Share of the stems that the rule does not protect."),
        number("stems_cut_pct", "Share cut", "%", "Share of the stems that is cut."),
        text(
            "mark",
            "Of how many",
            "The share as a small fraction for the marker, as in 3 in 8; missing where nothing is cut.",
        ),
        count(
            "cut_stems",
            "Stems to mark",
            "Whole stems on the net area; the sum over species and classes is that of the compartment.",
        ),
        number(
            "target_stems_per_ha",
            "Target of the class",
            "1/ha",
            "Stems that the class should have, all species together; missing without a target distribution.",
        ),
        number(
            "class_surplus_stems_per_ha",
            "Surplus of the class",
            "1/ha",
            "Stems of the class, all species together, less the target; below 0 is a deficit; missing without a "
            "target.",
        ),
    ),
    key=("compartment", "species", "class"),
)

THINNING_TABLES: tuple[Table, ...] = (PROPOSAL_RESULTS, REMOVAL_RESULTS)
"""The tables of `plotmap.workflow.propose_thinning`."""
