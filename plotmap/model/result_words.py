"""The words that columns of the results are filled with, and what each of them means: the code lists."""

from __future__ import annotations

from collections.abc import Mapping

Words = Mapping[str, str]
"""Word and its meaning, in the order in which people are shown them."""

STATES: Words = {
    "measured": "Visited, stems were found and measured or tallied.",
    "empty": "Visited, no stem was found: a real zero.",
    "unvisited": "Not visited; does not enter the estimates.",
    "lost": "Its measurements are lost; does not enter the estimates.",
}
DESIGNS: Words = {
    "circle": "Circle of one radius.",
    "rectangle": "Rectangle of one area.",
    "nested": "Rings, wider ones for thicker stems.",
    "angle-count": "Stems counted that are wider than an angle.",
    "strip": "Strip along a line.",
    "full": "All stems of the compartment.",
}
STATUS: Words = {
    "estimated": "Two plots or more: figures with errors.",
    "one plot": "Figures without an error.",
    "no plots": "No figures: they are missing, not zero.",
    "full count": "All stems were counted: no sampling error.",
}
TOTAL_STATUS: Words = {
    "estimated": "Figures with errors.",
    "partly": "A compartment, or a stratum that is a sample, has one plot: no error.",
    "no plots": "No figures: they are missing, not zero.",
}
BOTH_STATUS: Words = {
    **STATUS,
    "partly": TOTAL_STATUS["partly"],
}
"""Of tables with compartments and totals in one."""
INTERVALS: Words = {
    "gamma": "Gamma limits.",
    "t": "Limits by Student's t.",
    "log": "Limits by Student's t of the logarithm.",
    "Poisson": "No stem was found: the upper limit says what could still stand there.",
    "none": "No limits, or both equal the estimate.",
}
AREA_SOURCES: Words = {
    "register": "Area of the register.",
    "geodesic": "Area of the polygon on the ellipsoid.",
}
TOTAL_AREA_SOURCES: Words = {**AREA_SOURCES, "both": "Of some compartments the one, of others the other."}
SCOPES: Words = {"survey": "The whole survey.", "stratum": "A stratum.", "compartment": "A compartment."}
TOTAL_SCOPES: Words = {"survey": "The whole survey.", "stratum": "A stratum."}
CLIMBERS: Words = {
    "taken off": "The climber was taken off the girth.",
    "not known": "There is a climber of unknown size: the girth stayed as it was.",
}
BARK_BY: Words = {
    "measured so": "Measured on the basis of the settings.",
    "bark_mm": "By the bark thickness of the stem.",
    "bark_factor": "By the bark factor of the species.",
}
INSTRUMENTS: Words = {"caliper": "Caliper.", "tape": "Girth tape."}
YES_NO: Words = {"yes": "Yes.", "no": "No."}
MEANS: Words = {
    "arithmetic": "Sum of the readings over their number.",
    "geometric": "Root of the product of the readings.",
    "quadratic": "Root of the mean square of the readings.",
    "girth": "Girth over π.",
}
OVER_UNDER: Words = {"over": "Over bark.", "under": "Under bark."}
SEVERITIES: Words = {
    "error": "The survey cannot be computed.",
    "warning": "Probably wrong; the figures hold it as it is.",
    "note": "Good to know.",
}
OUTCOMES: Words = {
    "read": "Rows below the heading.",
    "used": "Rows that entered the results.",
    "set aside": "Rows that did not, for the reason given.",
}

CHECK_OUTCOMES: Words = {
    "pair": "Measured by both.",
    "tallied": "Tallied by the crew, measured by the check.",
    "missed": "Found by the check only.",
    "extra": "Found by the crew only.",
}
COMPARED_BY: Words = {
    "number": "By the number of the stem.",
    "position": "By the position of the stem.",
    "size": "By the diameter.",
    "count": "By the number of stems of a class.",
}
CHECK_GROUPS: Words = {
    "all": "All stems checked.",
    "crew": "Stems of one crew.",
    "instrument": "Stems of one instrument.",
    "class": "Stems of one size class.",
    "band": "Stems of one painted band.",
}
CHECK_STATUS: Words = {
    "estimated": "Two pairs or more.",
    "one pair": "No interval and no scatter.",
    "no pairs": "No difference.",
}
CHECK_BASIS: Words = {"pairs": "Pairs of measured stems.", "counts": "Counts of plots that were tallied."}

WEIBULLS: Words = {
    "two parameters": "Shape and scale.",
    "three parameters": "Shape, scale and lower limit.",
}
SE_FROM: Words = {
    "plots": "From the differences between plots.",
    "stems": "As if stems had been drawn one by one.",
}
FORMS: Words = {
    "reverse-J": "Fewer stems the thicker they are.",
    "bell": "One peak.",
    "two-peaked": "Two peaks.",
    "irregular": "None of these.",
    "not told": "No test says so at 5 %.",
}
GRID_STATUS: Words = {
    "estimated": "Error by local differences.",
    "not on one grid": "Plots do not lie on one grid.",
    "plots without a position": "Not every plot has a position.",
    "too few plots": "Fewer than 10 plots.",
    "too few neighbours": "Fewer than half of the plots have a neighbour on the grid.",
    "a compartment has one plot": "No error to compare with.",
    "full count": "All stems were counted.",
}
GRID_COMPARISONS: Words = {
    "about the same": "Within 10 % of the usual error.",
    "smaller on the grid": "The usual error is too large.",
    "larger on the grid": "The usual error is too small.",
}
HELPS_MOST: Words = {
    "more plots": "Most of the error is between plots.",
    "a better instrument": "Most of the error is of the readings.",
    "measuring what is tallied": "Most of the error is of the tallied classes.",
}
MODEL_METHODS: Words = {
    "synthetic": "The mean of its likes.",
    "composite": "That mean and its own plot, each by its variance.",
}
LIKES: Words = {"stratum": "The compartments of its stratum.", "survey": "All compartments."}
MODEL_STATUS: Words = {
    "model-based": "Right only as far as the compartment is like the others.",
    "too few compartments": "Fewer than three have plots.",
}

CURVE_FORMS: Words = {"naslund": "h = bh + d² / (a + b d)²", "michailow": "h = bh + a exp(−b / d)"}
CURVE_STATUS: Words = {
    "fitted": "A curve of its own.",
    "too few heights": "Takes the curve of all species, if any.",
    "no rising curve": "Takes the curve of all species, if any.",
}
HEIGHTS: Words = {
    "all measured": "Every stem has a measured height.",
    "from curves": "Some or all heights come from curves.",
    "no heights": "None was measured in the survey.",
    "no curve": "Some stems have neither height nor curve.",
    "no stems": "No stems were found.",
    "no plots": "No figures: they are missing, not zero.",
}
VOLUME_STATUS: Words = {
    **BOTH_STATUS,
    "no equation": "Some stems have no equation, so there is no figure.",
    "no heights": "None was measured in the survey, so there is no figure.",
    "no curve": "Some stems have neither height nor curve, so there is no figure.",
    "equation gives none": "The equation gives no volume for some stems, so there is no figure.",
}

CHANGE_STATUS: Words = {
    "paired": "All plots are pairs.",
    "partly paired": "Some plots are pairs.",
    "not paired": "Two samples of their own.",
    "one plot": "A change without an error.",
    "full count": "All stems were counted: no sampling error.",
    "no plots": "In one of the surveys; no change.",
    "boundary changed": "No change can be given.",
    "only in the old survey": "No change can be given.",
    "only in the new survey": "No change can be given.",
}
PAIRS: Words = {
    "paired": "Visited twice.",
    "moved": "Of one name, but too far apart to be one plot.",
    "other compartment": "Counts for another compartment than before.",
    "only old": "In the old survey only.",
    "only new": "In the new survey only.",
}
STEMS_BY: Words = {
    "followed": "Stems are followed one by one.",
    "tallied": "Stems were tallied, not measured.",
    "not numbered": "Stems have no number, or one twice.",
    "other area": "The plot has another area than before.",
    "no fixed area": "Angle counts have no area.",
}
FATES: Words = {
    "survivor": "Alive both times.",
    "ingrowth": "Not there, or too thin, the first time.",
    "died": "Alive, then dead.",
    "cut": "Alive, then cut.",
    "not found again": "In the old survey only.",
}
VERDICTS: Words = {
    "same": "Alike in both.",
    "brought together": "The old survey was computed with the value of the new one.",
    "differs": "Stays in the change.",
}
COMPONENT_STATUS: Words = {"estimated": "Figures with errors.", "one plot": "Figures without an error."}

LAYOUT_ROLES: Words = {
    "main": "To be visited.",
    "reserve": "To be visited only in place of a main plot of its stratum that cannot be.",
}
LAYOUT_SCOPES: Words = {
    "survey": "The whole survey.",
    "stratum": "A stratum.",
    "median compartment": "The compartment of median net area.",
}
CV_FROM: Words = {
    "stated": "[layout] cv_pct.",
    "stated for the stratum": "[layout] cv_pct_by_stratum.",
    "pilot": "Plots of this stratum in the pilot survey.",
    "pilot, all strata": "All plots of the pilot survey within their strata: it has fewer than two of this stratum.",
    "pilot, within compartments": "Plots of the pilot survey within their compartments.",
    "of its strata": "Those of the strata, by their areas.",
    "not known": "Nothing says it.",
}
EDGE_TASKS: Words = {
    "all inside": "The circle lies inside its compartment: tally all of it.",
    "tally all": "Tally all trees of the circle, beyond the boundary too; all count for this compartment.",
    "tally inside": "Tally only the trees inside this compartment; the area is that of the part inside.",
    "mirage": "Tally trees whose mirror image beyond the boundary falls into the plot again, column times.",
    "positions": "Tally all trees of the circle with azimuth and distance; each compartment gets its own.",
    "look": "The design has no radius: see there whether it reaches the boundary, and go by [plots] edge.",
}
PLANNED_STATUS: Words = {
    "enough": "As many plots as [layout] enough_plots, or more.",
    "few plots": "Fewer than that.",
    "no plots": "None: it will have no figures of its own.",
    "excluded": "Nothing of it is left.",
}
