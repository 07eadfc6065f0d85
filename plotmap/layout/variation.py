"""How much plots differ: as stated, or as the plots of an earlier survey do."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import polars as pl

from plotmap.errors import SettingsError
from plotmap.frames import ordered_sums
from plotmap.layout.land import Floats, Land
from plotmap.model.layout import Pilot
from plotmap.model.settings_layout import LayoutSection

STATED, OF_STRATUM, PILOT, PILOT_ALL = "stated", "stated for the stratum", "pilot", "pilot, all strata"
WITHIN, NOT_KNOWN = "pilot, within compartments", "not known"
_TWO = 2


@dataclass(frozen=True, slots=True)
class Variation:
    """Coefficients of variation of the strata of a land, in %.

    Attributes
    ----------
    cv_pct : numpy.ndarray of float, shape (n,)
        Standard deviation between plots of each stratum over the mean of the stratum; NaN where not known.
    of_survey_pct : numpy.ndarray of float, shape (n,)
        The same over the mean of the survey: `cv_pct` times how the means relate, which are taken as alike where no
        pilot tells them.
    cv_from : tuple of str
        Where `cv_pct` comes from, words of `CV_FROM`.
    within_pct : numpy.ndarray of float, shape (n,)
        Standard deviation within compartments of each stratum over its mean; `cv_pct` where no pilot tells it.
    within_from : tuple of str
        Where that comes from.
    """

    cv_pct: Floats
    of_survey_pct: Floats
    cv_from: tuple[str, ...]
    within_pct: Floats
    within_from: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether all strata have a coefficient."""
        return bool(np.isfinite(self.cv_pct).all())


@dataclass(frozen=True, slots=True)
class _Told:
    """What a pilot says of one stratum: coefficients in %, mean basal area, and where they come from."""

    cv_pct: float
    mean: float
    told: str
    within_pct: float
    within_told: str


def variation_of(land: Land, rules: LayoutSection, pilot: Pilot | None) -> Variation:
    """Return how much plots differ in each stratum.

    Parameters
    ----------
    land : Land
        Strata and their areas.
    rules : LayoutSection
        ``cv_pct``, and ``cv_pct_by_stratum``, which goes before it and before the pilot.
    pilot : Pilot or None
        Basal area per hectare of its plots is looked at, strata by their names.

    Raises
    ------
    SettingsError
        ``cv_pct_by_stratum`` names a stratum that is not there, or the plots of the pilot say nothing.
    """
    if unknown := sorted(set(rules.cv_pct_by_stratum) - set(land.strata)):
        raise SettingsError(
            f"survey.toml, [layout] cv_pct_by_stratum names {unknown[0]!r}, but the strata are "
            f"{', '.join(land.strata)}. Write them as the compartments do."
        )
    n = len(land.strata)
    cv = np.full(n, math.nan if rules.cv_pct is None else rules.cv_pct)
    mean = np.ones(n)
    told = [NOT_KNOWN if rules.cv_pct is None else STATED] * n
    within, within_told = cv.copy(), list(told)
    if pilot is not None:
        found = _of_pilot(land, pilot)
        cv, mean = np.array([row.cv_pct for row in found]), np.array([row.mean for row in found])
        within = np.array([row.within_pct for row in found])
        told, within_told = [row.told for row in found], [row.within_told for row in found]
    for row, name in enumerate(land.strata):
        if name in rules.cv_pct_by_stratum:
            cv[row], told[row] = rules.cv_pct_by_stratum[name], OF_STRATUM
            if within_told[row] != WITHIN:
                within[row], within_told[row] = cv[row], OF_STRATUM
    whole = float((land.stratum_ha * mean).sum() / land.stratum_ha.sum())
    return Variation(cv, cv * mean / whole, tuple(told), within, tuple(within_told))


def _of_pilot(land: Land, pilot: Pilot) -> list[_Told]:
    """Return, for each stratum of the land, what the plots of the pilot say of it."""
    plots = _plot_values(pilot)
    strata = _spread(plots, "stratum")
    pooled = _pooled(strata)
    if pooled is None:
        raise SettingsError(
            f"survey.toml, [layout] pilot: no stratum of {pilot.survey.folder} has two plots with basal area, so "
            "that it does not say how much plots differ. State cv_pct instead."
        )
    found = []
    for name in land.strata:
        cv, mean, told = pooled, float(plots["value"].to_numpy().mean()), PILOT_ALL
        own = strata.filter((pl.col("stratum") == name) & (pl.col("n") >= _TWO) & (pl.col("mean") > 0))
        if own.height:
            cv, mean, told = 100 * own["sd"].item() / own["mean"].item(), own["mean"].item(), PILOT
        inside = _pooled(_spread(plots.filter(pl.col("stratum") == name), "compartment"))
        within = (cv, told) if inside is None else (inside, WITHIN)
        found.append(_Told(cv, mean, told, *within))
    return found


def _plot_values(pilot: Pilot) -> pl.DataFrame:
    """Return basal area per hectare of each sample plot, with compartment and stratum."""
    values = pilot.values
    strata: pl.DataFrame = pl.from_pandas(pilot.survey.compartments[["compartment", "stratum"]]).cast(
        pl.String
    )
    sums = ordered_sums(values.cells, ["plot", "compartment"], basal_area_m2=pl.col("basal_area_m2"))
    return (
        values.units.filter(~pl.col("full_count"))
        .join(sums, on=["plot", "compartment"], how="left", maintain_order="left")
        .join(strata.unique("compartment", keep="first"), on="compartment", how="left", maintain_order="left")
        .select(
            "compartment",
            "stratum",
            (pl.col("basal_area_m2").fill_null(0.0) / pl.col("weight_ha")).alias("value"),
        )
    )


def _spread(plots: pl.DataFrame, by: str) -> pl.DataFrame:
    """Return number, mean and standard deviation of the plots of each group."""
    value = pl.col("value")
    return plots.group_by(by, maintain_order=True).agg(
        value.len().alias("n"), value.mean().alias("mean"), value.std().alias("sd")
    )


def _pooled(groups: pl.DataFrame) -> float | None:
    """Return the pooled standard deviation within groups over their mean, in %; None where no group has two plots."""
    some = groups.filter(pl.col("n") >= _TWO)
    mean = float((some["n"] * some["mean"]).sum())
    if not some.height or mean <= 0:
        return None
    freedom = float((some["n"] - 1).sum())
    variance = float(((some["n"] - 1) * some["sd"] ** 2).sum()) / freedom
    return 100 * math.sqrt(variance) / (mean / float(some["n"].sum()))
