"""The table of thinning rules an officer may bring, declared."""

from __future__ import annotations

from dataclasses import dataclass

from plotmap.model.columns import Column, Kind, Table
from plotmap.units import Dimension

BASAL_AREA, STEMS, DENSITY, SPACING = "basal area", "stems", "relative density", "relative spacing"
"""Words of ``criterion``."""
BELOW, ABOVE, PROPORTIONAL = "from below", "from above", "proportional"
SHAPE, ROWS, TARGET = "shape", "rows", "target distribution"
"""Words of ``kind``."""


@dataclass(frozen=True, slots=True)
class Measure:
    """A measure of density that a rule can be about.

    Attributes
    ----------
    word : str
        As the column ``criterion`` has it.
    trigger, residual : str
        The columns of its limits.
    unit : str
        Unit of both.
    falls : bool
        Whether the measure falls as the stand gets denser, as spacing does.
    """

    word: str
    trigger: str
    residual: str
    unit: str
    falls: bool = False


MEASURES: tuple[Measure, ...] = (
    Measure(BASAL_AREA, "trigger_basal_area_m2_per_ha", "residual_basal_area_m2_per_ha", "m²/ha"),
    Measure(STEMS, "trigger_stems_per_ha", "residual_stems_per_ha", "1/ha"),
    Measure(DENSITY, "trigger_density_pct", "residual_density_pct", "%"),
    Measure(SPACING, "trigger_spacing_pct", "residual_spacing_pct", "%", falls=True),
)
"""What rules can be about."""
TARGET_COLUMNS = (
    "target_smallest_dbh_cm",
    "target_largest_dbh_cm",
    "target_q",
    "target_class_width_cm",
)
"""What a target distribution needs."""
_LARGEST = {"m²/ha": 200.0, "1/ha": 100_000.0, "%": 200.0}


def _limits(measure: Measure) -> tuple[Column, Column]:
    """Declare trigger and residual of a measure."""
    what = {
        BASAL_AREA: "basal area",
        STEMS: "stems per hectare",
        DENSITY: "relative density by Reineke's index, summed over stems; exponent and largest indexes are those "
        "of the settings, [density],",
        SPACING: "relative spacing, √(10 000 / stems per hectare) over top height, of a square spacing,",
    }[measure.word]
    when = "or less" if measure.falls else "or more"
    title = measure.word.capitalize()
    high = _LARGEST[measure.unit]
    return (
        Column(
            measure.trigger,
            Kind.NUMBER,
            f"{title} that calls for thinning",
            f"A thinning is due where the {what} is this {when}; needed where criterion is {measure.word}.",
            unit=measure.unit,
            low=0.1,
            high=high,
        ),
        Column(
            measure.residual,
            Kind.NUMBER,
            f"{title} that stays",
            f"The {what} after the thinning; one of the four residuals is needed, except for kind = {ROWS}.",
            unit=measure.unit,
            low=0,
            high=high,
        ),
    )


PRESCRIPTIONS = Table(
    "prescriptions",
    "Rules of thinning",
    "a rule for a compartment, or for all compartments of a stratum that have none of their own",
    (
        Column("rule", Kind.IDENTIFIER, "Rule", "Name of the rule.", required=True),
        Column(
            "compartment",
            Kind.IDENTIFIER,
            "Compartment of the rule",
            "The compartment it is for; missing where it is for a stratum. It goes before the stratum's rule.",
        ),
        Column(
            "stratum",
            Kind.IDENTIFIER,
            "Stratum of the rule",
            "The stratum it is for; missing where it is for a compartment.",
        ),
        Column(
            "criterion",
            Kind.CHOICE,
            "Criterion",
            "The measure whose trigger calls for thinning.",
            required=True,
            choices=tuple(measure.word for measure in MEASURES),
        ),
        Column(
            "kind",
            Kind.CHOICE,
            "Kind of removal",
            "From below and above: class by class. Proportional: the same share of every class. Shape: shares in "
            "proportion to (class diameter / mean diameter) ^ shape_power. Rows: nothing but rows. Target "
            "distribution: what stands above a distribution that falls by q from class to class.",
            required=True,
            choices=(BELOW, ABOVE, PROPORTIONAL, SHAPE, ROWS, TARGET),
        ),
        Column(
            "min_plots",
            Kind.COUNT,
            "Fewest plots",
            "With fewer plots a compartment is not proposed; one that was counted whole needs none.",
            required=True,
            low=2,
            high=1000,
        ),
        *(column for measure in MEASURES for column in _limits(measure)),
        Column(
            "shape_power",
            Kind.NUMBER,
            "Power of the shape",
            "Below 0 takes more of the thin stems, 0 is proportional, above 0 takes more of the thick; needed for "
            "kind = shape.",
            low=-10,
            high=10,
        ),
        Column(
            "row_share_pct",
            Kind.NUMBER,
            "Share of rows",
            "Share of all stems that stand in the rows or strips that are cut before anything is chosen; needed for "
            "kind = rows, no rows where missing.",
            unit="%",
            low=1,
            high=90,
        ),
        Column(
            "target_smallest_dbh_cm",
            Kind.NUMBER,
            "Smallest diameter of the target",
            "Classes whose middle is below it are left alone, and the residual basal area is without them; needed "
            "for a target distribution.",
            unit="cm",
            dimension=Dimension.LENGTH,
            low=0,
            high=400,
        ),
        Column(
            "target_largest_dbh_cm",
            Kind.NUMBER,
            "Largest diameter of the target",
            "Classes whose middle is above it are cut first; needed for a target distribution.",
            unit="cm",
            dimension=Dimension.LENGTH,
            low=1,
            high=400,
        ),
        Column(
            "target_q",
            Kind.NUMBER,
            "q of the target",
            "Stems of a class over those of the next thicker one, classes being target_class_width_cm wide; needed "
            "for a target distribution.",
            low=1,
            high=10,
        ),
        Column(
            "target_class_width_cm",
            Kind.NUMBER,
            "Class width of q",
            "Without it q says nothing; needed for a target distribution. The size classes of the survey may have "
            "another width.",
            unit="cm",
            dimension=Dimension.LENGTH,
            low=0.5,
            high=100,
        ),
        Column(
            "largest_share_pct",
            Kind.NUMBER,
            "Largest share of a visit",
            "Largest share of the basal area that one visit may take; no limit where missing.",
            unit="%",
            low=1,
            high=100,
        ),
        Column(
            "smallest_basal_area_m2_per_ha",
            Kind.NUMBER,
            "Smallest basal area",
            "Basal area that must stay whatever the rule says; no limit where missing.",
            unit="m²/ha",
            low=0,
            high=200,
        ),
        Column(
            "smallest_stems_per_ha",
            Kind.NUMBER,
            "Smallest number of stems",
            "Stems per hectare that must stay whatever the rule says; no limit where missing.",
            unit="1/ha",
            low=0,
            high=100_000,
        ),
        Column(
            "never_cut",
            Kind.TEXT,
            "Species never cut",
            "Species as the field sheets write them, or groups of the species table, with semicolons between them; "
            "none where missing.",
        ),
        Column(
            "kept_from_dbh_cm",
            Kind.NUMBER,
            "Thick stems that stay",
            "Stems of this diameter or more are not cut; no limit where missing.",
            unit="cm",
            dimension=Dimension.LENGTH,
            low=1,
            high=400,
        ),
        Column(
            "retention_stems_per_ha",
            Kind.NUMBER,
            "Trees retained",
            "So many of the thickest stems per hectare stay, of whatever species; none where missing.",
            unit="1/ha",
            low=0,
            high=1000,
        ),
        Column(
            "source",
            Kind.TEXT,
            "Source",
            "Where the rule and its figures come from; missing where not given.",
        ),
    ),
    key=("rule", "compartment", "stratum"),
)
