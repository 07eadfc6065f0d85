"""How many plots the strata get: as stated, for a target error, or what the crew-days give."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plotmap.errors import SettingsError
from plotmap.layout.land import Floats, Land
from plotmap.layout.variation import Variation
from plotmap.model.settings import Settings
from plotmap.model.settings_layout import GRIDS, LayoutMethod, LayoutSection
from plotmap.spatial.grids import TRIANGLE_SINE
from plotmap.statistics import allocate, stratified_plots_needed

STATED, SPACING, TARGET, CREW_DAYS = "n_plots", "spacing_m", "target error", "crew-days"


@dataclass(frozen=True, slots=True)
class Numbers:
    """Plots of each stratum, shape (n,).

    Attributes
    ----------
    for_target : numpy.ndarray of float
        That bring the error of the survey down to its target; NaN where the variation is not known.
    from_days : numpy.ndarray of float
        That the crew-days give; NaN where none are stated.
    wanted : numpy.ndarray of float
        By which the layout goes. Whole numbers but where one grid serves all strata.
    basis : str
        Which of them these are.
    one_density : bool
        Whether one grid serves all strata, with plots as dense in each.
    """

    for_target: Floats
    from_days: Floats
    wanted: Floats
    basis: str
    one_density: bool


def numbers_of(land: Land, variation: Variation, settings: Settings) -> Numbers:
    """Return how many plots each stratum gets.

    A stated number or spacing goes before all else; then the smaller of what the target error needs and what the
    crew-days give.

    Raises
    ------
    SettingsError
        Nothing says how many plots, the target cannot be met, or so many plots cannot be shared out.
    """
    rules = settings.layout
    if rules.allocation == "neyman" and not variation.known:
        raise SettingsError(
            "survey.toml, [layout] allocation is 'neyman', which shares plots out by their variation, but that is "
            "not known. Give cv_pct, cv_pct_by_stratum or pilot, or take allocation = 'proportional'."
        )
    nothing = np.full(len(land.strata), math.nan)
    weights = _weights(land, variation, rules)
    target = _for_target(land, variation, settings, weights) if variation.known else nothing
    days = nothing
    if rules.crew_days is not None and rules.plots_per_day is not None:
        whole = math.floor(rules.crew_days * rules.plots_per_day + 1e-9)
        said = f"[layout] crew_days is {rules.crew_days:g}, with {rules.plots_per_day} plots a day"
        days = _shared(land, rules, weights, whole, said)
    if rules.spacing_m is not None:
        return Numbers(
            target, days, land.by_stratum(land.net_m2) / _cell_m2(rules), SPACING, one_density=True
        )
    wanted, basis = _chosen(land, rules, weights, target, days)
    if rules.method not in GRIDS or not _one_density(land, rules, wanted):
        return Numbers(target, days, wanted, basis, one_density=False)
    by_area = wanted.sum() * land.by_stratum(land.net_m2) / land.net_m2.sum()
    return Numbers(target, days, by_area, basis, one_density=True)


def _weights(land: Land, variation: Variation, rules: LayoutSection) -> Floats:
    """Return what plots are shared out by."""
    shares: Floats = land.stratum_ha / land.stratum_ha.sum()
    if rules.allocation == "proportional":
        return shares
    neyman: Floats = shares * variation.of_survey_pct
    return neyman if neyman.any() else shares


def _for_target(land: Land, variation: Variation, settings: Settings, weights: Floats) -> Floats:
    """Return the plots for the target error."""
    target = settings.estimates.target_error_pct
    try:
        return stratified_plots_needed(
            land.stratum_ha / land.stratum_ha.sum(),
            variation.of_survey_pct,
            target,
            settings.survey.confidence,
            weights=weights,
            population=land.fitting,
            least=settings.layout.min_per_stratum,
        )
    except ValueError as error:
        raise SettingsError(
            f"survey.toml, [estimates] target_error_pct is {target:g} %, which no number of plots meets. Allow more."
        ) from error


def _shared(land: Land, rules: LayoutSection, weights: Floats, total: int, said: str) -> Floats:
    """Return a total shared out over the strata."""
    most = land.fitting_whole
    least = np.minimum(rules.min_per_stratum, most)
    if total < least.sum():
        strata = f"{len(most)} strata need" if len(most) > 1 else "the survey needs"
        raise SettingsError(
            f"survey.toml, {said}: that is {total} plots, but {strata} {least.sum():.0f} at least by "
            f"min_per_stratum = {rules.min_per_stratum}. Give more, or lower min_per_stratum."
        )
    if total > most.sum():
        raise SettingsError(
            f"survey.toml, {said}: that is {total} plots, but {most.sum():.0f} of {land.plot_m2:.0f} m² cover all of "
            f"the {land.area_ha.sum():.4g} ha. Give fewer, or count it whole."
        )
    return allocate(total, weights, least=least, most=most)


def _chosen(
    land: Land, rules: LayoutSection, weights: Floats, target: Floats, days: Floats
) -> tuple[Floats, str]:
    """Return the plots by which the layout goes, and which they are."""
    if rules.n_plots is not None:
        return _shared(land, rules, weights, rules.n_plots, f"[layout] n_plots is {rules.n_plots}"), STATED
    if np.isnan(target).any() and np.isnan(days).any():
        raise SettingsError(
            "survey.toml, [layout] does not say how many plots. Give cv_pct or pilot, from which the number for "
            "[estimates] target_error_pct follows; or crew_days and plots_per_day; or n_plots, or spacing_m."
        )
    if np.isnan(target).any() or target.sum() > days.sum():
        return days, CREW_DAYS
    return target, TARGET


def _cell_m2(rules: LayoutSection) -> float:
    """Return the area that each point of a grid of the stated spacing stands for."""
    square = float(rules.spacing_m or math.nan) ** 2
    if rules.method is LayoutMethod.TRIANGULAR:
        return square * TRIANGLE_SINE
    return square * rules.strip_ratio if rules.method is LayoutMethod.STRIPS else square


def _one_density(land: Land, rules: LayoutSection, wanted: Floats) -> bool:
    """Say whether plots are shared out by area alone: no stratum has more, or less, than that gives it."""
    if rules.allocation != "proportional":
        return False
    by_area = allocate(round(float(wanted.sum())), land.stratum_ha)
    return bool((by_area == wanted).all())
