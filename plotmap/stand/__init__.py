"""From plot values to compartments, classes, strata and the survey, with their errors."""

from plotmap.stand.error_parts import error_parts
from plotmap.stand.estimation import Estimates, compartment_figures, estimate_stand
from plotmap.stand.sample_checks import check_samples
from plotmap.stand.stem_parts import stem_parts

__all__ = ["Estimates", "check_samples", "compartment_figures", "error_parts", "estimate_stand", "stem_parts"]
