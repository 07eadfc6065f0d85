"""From plot values to compartments, classes, species, strata and the survey."""

from plotmap.stand.estimation import Estimates, estimate_stand

__all__ = ["Estimates", "estimate_stand"]
