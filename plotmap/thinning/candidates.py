"""Is a thinning due? The probability, the word, and how many plots would tell."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plotmap.model.field_tables_thinning import SPACING
from plotmap.model.result_tables_thinning import (
    BY_BOOTSTRAP,
    BY_COUNT,
    BY_T,
    CANNOT_TELL,
    LIKELY,
    UNLIKELY,
)
from plotmap.model.settings_thinning import ThinningSection
from plotmap.model.thinning import Rule
from plotmap.statistics import chance_above, plots_to_decide
from plotmap.statistics.estimates import Floats


@dataclass(frozen=True, slots=True)
class Estimate:
    """Estimate of a criterion in one compartment, in its unit.

    Attributes
    ----------
    value, se : float
        NaN where not known.
    n_plots : int
        Plots it rests on.
    whole : bool
        Whether the compartment was counted whole.
    """

    value: float
    se: float
    n_plots: int
    whole: bool


@dataclass(frozen=True, slots=True)
class Candidate:
    """What is known about the need to thin one compartment.

    Attributes
    ----------
    probability : float
        That the criterion is met, 0 to 1.
    by : str
        How it was computed: a word of `PROBABILITIES`.
    word : str
        likely, unlikely or cannot tell.
    n_plots_more : int or None
        Plots more that would tell; None where the word is another, or where no sensible number would.
    """

    probability: float
    by: str
    word: str
    n_plots_more: int | None


def judge(
    estimate: Estimate, rule: Rule, settings: ThinningSection, drawn: Floats | None = None
) -> Candidate:
    """Return the probability that the criterion of a rule is met, and what it says.

    Basal area, stems and relative density are each one estimate: Student's t with n − 1 degrees of freedom. Relative
    spacing is made of two, and its probability is the share of the bootstrap draws that meet it.

    Parameters
    ----------
    estimate : Estimate
        Of the criterion; its value and error known.
    rule : Rule
        Trigger.
    settings : ThinningSection
        Thresholds.
    drawn : numpy.ndarray of float, shape (draws,), optional
        Values of the criterion in the draws, needed for relative spacing unless counted whole; NaN where a draw has
        none, which does not meet it.

    Returns
    -------
    Candidate
        Its word: likely from ``likely_from``, unlikely to ``unlikely_to``.
    """
    met = estimate.value <= rule.trigger if rule.measure.falls else estimate.value >= rule.trigger
    by = BY_COUNT if estimate.whole else BY_T
    if estimate.whole:
        chance = float(met)
    elif rule.criterion == SPACING and drawn is not None:
        chance, by = float(np.mean(drawn <= rule.trigger)), BY_BOOTSTRAP
    else:
        chance = float(chance_above(estimate.value, estimate.se, estimate.n_plots - 1, rule.trigger))
    if chance >= settings.likely_from:
        return Candidate(chance, by, LIKELY, None)
    if chance <= settings.unlikely_to:
        return Candidate(chance, by, UNLIKELY, None)
    sure = settings.likely_from if met else 1.0 - settings.unlikely_to
    needed = float(plots_to_decide(estimate.value, estimate.se, estimate.n_plots, rule.trigger, sure))
    more = None if math.isnan(needed) else max(int(needed) - estimate.n_plots, 1)
    return Candidate(chance, by, CANNOT_TELL, more)
