"""What grows in the invented forest: kinds of stands, species, painted bands and names of compartments."""

from __future__ import annotations

import math
from dataclasses import dataclass

STRATA = ("valley", "mid-slope", "fellside")
"""From the south, where the ground is low, to the north."""
PAINTED_BANDS = (("ochre", 10, 15), ("slate", 15, 20), ("moss", 20, 25), ("chalk", 25, 40))
"""Name, lower edge and upper edge in cm; the lower edge belongs to the band."""
TAPE_CLIMBER_SPECIES = ("oak", "ash", "alder")

SPECIES = (
    # spelling, botanical name, local name, group, bark factor, form factor, sensitive
    ("oak", "Quercus petraea", "sessile oak", None, 0.93, 0.46, "no"),
    ("ash", "Fraxinus excelsior", "ash", None, 0.95, 0.47, "no"),
    ("alder", "Alnus glutinosa", "alder", None, 0.94, 0.48, "no"),
    ("silver birch", "Betula pendula", "silver birch", "birch", 0.93, 0.45, "no"),
    ("downy birch", "Betula pubescens", "downy birch", "birch", 0.94, 0.45, "no"),
    ("rowan", "Sorbus aucuparia", "rowan", None, 0.96, 0.44, "no"),
    ("elm", "Ulmus glabra", "wych elm", None, 0.94, 0.46, "yes"),
    ("pine", "Pinus sylvestris", "Scots pine", None, 0.90, 0.47, "no"),
    ("larch", "Larix decidua", "larch", None, 0.88, 0.46, "no"),
    ("spruce", "Picea abies", "Norway spruce", None, 0.95, 0.49, "no"),
)
"""Rows of species.csv; the factors are of plausible size and invented."""

COMPARTMENT_NAMES = (
    "High Bank", "Windy Hag", "North Nab", "Tup Field Wood", "Far Rigg", "Long Crag", "Cold Well",
    "Grey Stones", "Road End", "Upper Gill", "East Rigg", "West Tip", "Fold Wood", "Stone Gate",
    "Middle Plantation", "Heron Nook", "Tarn Wood", "Peat Steps", "Ling Bank", "Kiln Brow", "Cart Wood",
    "Saw Pit", "Shepherd's Nook", "Old Rides", "Mill Brow", "Beck Side and Intake", "Swan Carr",
    "Bridge Wood", "Lower Carr", "Hay Wood", "Low Holme", "South Gate",
)  # fmt: skip


@dataclass(frozen=True)
class StandType:
    """One kind of stand.

    Attributes
    ----------
    name : str
        For the reader of this file.
    strata : tuple of str
        Strata where it grows.
    stems_per_ha : float
        Stems of 8.5 cm and more per hectare, on average.
    dg_cm : float
        Diameter of the stem of mean basal area, in cm.
    weibull_shape : float
        Shape of the diameters above 8.5 cm: 1 for uneven, 3 and more for even stands.
    spread : float
        Standard deviation of the logarithm of the stems per hectare between plots.
    mixture : tuple of (str, float)
        Species and their shares, which add up to 1.
    dead_share : float
        Share of dead stems.
    painted : bool
        Whether the crew with the paint may have it.
    gaps : bool
        Whether plots without trees occur.
    """

    name: str
    strata: tuple[str, ...]
    stems_per_ha: float
    dg_cm: float
    weibull_shape: float
    spread: float
    mixture: tuple[tuple[str, float], ...]
    dead_share: float = 0.03
    painted: bool = False
    gaps: bool = False

    def weibull_scale_cm(self) -> float:
        """Return the scale in cm that gives `dg_cm`: the positive root of E[(8.5 + scale·W)²] = dg²."""
        first = math.gamma(1 + 1 / self.weibull_shape)
        second = math.gamma(1 + 2 / self.weibull_shape)
        half = 8.5 * first
        return (math.sqrt(half**2 + second * (self.dg_cm**2 - 8.5**2)) - half) / second


STAND_TYPES = (
    StandType(
        "young spruce, not yet thinned", ("mid-slope",), 1450, 15.6, 2.4, 0.12,
        (("spruce", 0.86), ("silver birch", 0.08), ("rowan", 0.06)), dead_share=0.05, painted=True,
    ),
    StandType(
        "pole-stage larch", ("fellside",), 1000, 17.5, 2.6, 0.15,
        (("larch", 0.82), ("downy birch", 0.12), ("rowan", 0.06)), dead_share=0.05, painted=True,
    ),
    StandType(
        "restock with birch", ("fellside", "mid-slope"), 520, 14.2, 1.5, 0.26,
        (("downy birch", 0.45), ("silver birch", 0.2), ("rowan", 0.15), ("spruce", 0.2)), gaps=True,
    ),
    StandType(
        "thinned larch", ("mid-slope", "fellside"), 380, 29.0, 3.2, 0.16,
        (("larch", 0.9), ("downy birch", 0.06), ("oak", 0.04)), dead_share=0.02,
    ),
    StandType(
        "old pine, open", ("fellside",), 210, 37.0, 3.0, 0.22,
        (("pine", 0.88), ("downy birch", 0.08), ("rowan", 0.04)), gaps=True,
    ),
    StandType(
        "old spruce", ("mid-slope", "fellside"), 470, 34.0, 3.4, 0.15,
        (("spruce", 0.93), ("larch", 0.04), ("rowan", 0.03)), dead_share=0.04,
    ),
    StandType(
        "old oak", ("valley", "mid-slope"), 205, 41.0, 2.6, 0.18,
        (("oak", 0.86), ("ash", 0.06), ("rowan", 0.06), ("elm", 0.02)),
    ),
    StandType(
        "oak, heavily thinned", ("valley",), 95, 43.0, 2.8, 0.24,
        (("oak", 0.92), ("silver birch", 0.05), ("elm", 0.03)), gaps=True,
    ),
    StandType(
        "mixed broadleaves", ("valley", "mid-slope"), 520, 24.5, 1.3, 0.2,
        (("ash", 0.3), ("oak", 0.3), ("silver birch", 0.18), ("alder", 0.12), ("rowan", 0.07), ("elm", 0.03)),
    ),
    StandType(
        "alder by the beck", ("valley",), 640, 18.5, 2.0, 0.22,
        (("alder", 0.8), ("ash", 0.1), ("downy birch", 0.1)), dead_share=0.05,
    ),
    StandType(
        "ash poles", ("valley",), 900, 16.5, 2.2, 0.15,
        (("ash", 0.75), ("oak", 0.15), ("silver birch", 0.1)), dead_share=0.08, painted=True,
    ),
)  # fmt: skip
