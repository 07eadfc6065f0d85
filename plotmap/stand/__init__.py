"""From plot values to compartments, classes, strata and the survey, with their errors."""

from plotmap.stand.error_parts import error_parts
from plotmap.stand.estimation import Estimates, estimate_stand

__all__ = ["Estimates", "error_parts", "estimate_stand"]
