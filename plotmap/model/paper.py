"""What can be asked of printed pages: sizes of paper, and a map sheet."""

from __future__ import annotations

from dataclasses import dataclass

SIZES_MM = {
    "A0": (841.0, 1189.0),
    "A1": (594.0, 841.0),
    "A2": (420.0, 594.0),
    "A3": (297.0, 420.0),
    "A4": (210.0, 297.0),
    "Letter": (215.9, 279.4),
    "Legal": (215.9, 355.6),
    "Tabloid": (279.4, 431.8),
}
"""Width and height upright, in mm: ISO 216, and the sizes of 8.5 × 11, 8.5 × 14 and 11 × 17 inches."""
ORIENTATIONS = ("portrait", "landscape")
SHEET_THEMES = {
    "basal_area": "basal_area_m2_per_ha",
    "stems": "stems_per_ha",
    "diameter": "dg_cm",
    "error": "sampling_error_pct",
}
"""What a map sheet can be coloured by, and the column of the compartments that holds it."""
LARGEST_SCALE, SMALLEST_SCALE = 100.0, 10_000_000.0
"""Denominators a map sheet may have."""


@dataclass(frozen=True, slots=True)
class SheetWish:
    """A map sheet as it is asked for.

    Attributes
    ----------
    size : str
        Of `SIZES_MM`, in any case of letters.
    scale_denominator : float or None
        10 000 for 1 : 10 000; None: the largest round scale at which the survey fits one sheet.
    theme : str
        Of `SHEET_THEMES`.
    orientation : str or None
        Of `ORIENTATIONS`; None: that which shows more.
    printed_on : str
        Date that is printed as that of the printing; empty: none is.
    """

    size: str = "A4"
    scale_denominator: float | None = None
    theme: str = "basal_area"
    orientation: str | None = None
    printed_on: str = ""
