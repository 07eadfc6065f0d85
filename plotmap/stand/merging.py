"""Samples with one plot merged with a named one, and all samples as one, post-stratified by their areas."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from plotmap.statistics import Design, ratio, total
from plotmap.statistics.designs import end_of_mergers

_Ints = npt.NDArray[np.intp]
_Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """One figure per hectare of p samples that have plots, and of the u plots that are not of a full count.

    Attributes
    ----------
    names : list of str, length p
        Compartments or strata.
    area_ha, mean, se, df : numpy.ndarray of float, shape (p,)
        Areas in ha, and estimates per hectare; ``se`` and ``df`` are missing with one plot, 0 and infinite for a
        full count.
    sampled_ha, fraction : numpy.ndarray of float, shape (p,)
        Area of the plots in ha, and the sampling fraction that errors are corrected by, 0 for none.
    stratum, group : numpy.ndarray of int, shape (p,)
        Stratum of each sample, and the total it goes into.
    unit_part : numpy.ndarray of int, shape (u,)
        Sample of each plot.
    unit_area_ha, unit_sum : numpy.ndarray of float, shape (u,)
        Area of each plot in ha, and what stands on it.
    """

    names: list[str]
    area_ha: _Floats
    mean: _Floats
    se: _Floats
    df: _Floats
    sampled_ha: _Floats
    fraction: _Floats
    stratum: _Ints
    group: _Ints
    unit_part: _Ints
    unit_area_ha: _Floats
    unit_sum: _Floats


def merge_parts(parts: Parts, merge_into: Mapping[str, str]) -> Parts:
    """Join each sample with one plot to the one that it is to be merged with.

    The joined samples keep their estimates, Σ area × mean; their variance is that of one sample about their common
    ratio, every plot weighted by the hectares it stands for (collapsed strata: Cochran 1977, Sampling Techniques,
    section 5A.12; a `Design` of one stratum), with the number of plots less one degrees of freedom.

    Parameters
    ----------
    parts : Parts
        Samples and their plots.
    merge_into : mapping of str to str
        Name of a sample with one plot, and of the one it joins. Samples with more plots stay by themselves.

    Returns
    -------
    Parts
        Joined samples are one row. One whose partner does not go into the same total stays, without an error.

    Raises
    ------
    ValueError
        Mergers of three or more samples lead round in a circle.
    """
    into = _mergers(parts, merge_into)
    several = np.bincount(into, minlength=len(into)) > 1
    if not several.any():
        return parts
    in_merger = several[into[parts.unit_part]]
    stays, code = np.unique(into[parts.unit_part[in_merger]], return_inverse=True)
    area, sampled = (
        np.bincount(into, of, len(into)).astype(np.float64) for of in (parts.area_ha, parts.sampled_ha)
    )
    uncorrected = np.bincount(into, parts.fraction == 0, len(into)) > 0
    fraction = np.where(
        several, np.where(uncorrected, 0.0, sampled / np.where(area > 0, area, 1.0)), parts.fraction
    )
    per_plot = (parts.area_ha / parts.sampled_ha)[parts.unit_part[in_merger]]
    names = [parts.names[place] for place in stays]
    design = Design(code, names, per_plot, sampling_fraction=fraction[stays])
    found = ratio(design, parts.unit_sum[in_merger], parts.unit_area_ha[in_merger], code, len(stays))
    mean, se, df = parts.mean.copy(), parts.se.copy(), parts.df.copy()
    # weights are hectares per hectare of plot: the ratio is Σ area × mean / Σ area
    mean[stays], se[stays], df[stays] = found.value, found.se, found.df
    kept = np.flatnonzero(into == np.arange(len(into)))
    return Parts(
        names=[parts.names[place] for place in kept],
        area_ha=area[kept],
        mean=mean[kept],
        se=se[kept],
        df=df[kept],
        sampled_ha=sampled[kept],
        fraction=fraction[kept],
        stratum=parts.stratum[kept],
        group=parts.group[kept],
        unit_part=np.searchsorted(kept, into[parts.unit_part]),
        unit_area_ha=parts.unit_area_ha,
        unit_sum=parts.unit_sum,
    )


def one_sample(parts: Parts, policy: str, merge_into: Mapping[str, str]) -> tuple[_Floats, _Floats, _Floats]:
    """Return the total of all samples where their plots are one sample, post-stratified by the samples' areas.

    Counted samples are added without an error. The variance is the linearised one of `plotmap.statistics.total`
    for a simple random sample with post-strata (Särndal, Swensson & Wretman 1992, ch. 7).

    Parameters
    ----------
    parts : Parts
        Samples, which are the post-strata, and their plots; group is not looked at.
    policy : str
        ``[estimates] one_plot_variance``.
    merge_into : mapping of str to str
        For ``"merge"``.

    Returns
    -------
    total, se, df : numpy.ndarray of float, shape (1,)
        Missing without samples; `se` and `df` also where a post-stratum has one plot and nothing is lent or
        merged. Degrees of freedom are the plots less one.

    Raises
    ------
    ValueError
        As for `merge_parts`.
    """
    if not parts.names:
        return np.full(1, np.nan), np.full(1, np.nan), np.full(1, np.nan)
    value = np.atleast_1d((parts.area_ha * parts.mean).sum())
    if not len(parts.unit_part):
        return value, np.zeros(1), np.full(1, np.inf)
    into = _mergers(parts, merge_into) if policy == "merge" else np.arange(len(parts.names))
    areas = np.bincount(into, parts.area_ha, len(into))
    stays, code = np.unique(into[parts.unit_part], return_inverse=True)
    plots = np.bincount(code)
    pooled = policy == "pooled"
    if (plots == 1).any() and not (pooled and (plots > 1).any()):
        return value, np.full(1, np.nan), np.full(1, np.nan)
    per_plot = np.ones(len(into)) if pooled else parts.area_ha / parts.sampled_ha
    sampled = np.isfinite(parts.df) | np.isnan(parts.df)
    corrected = bool((parts.fraction[sampled] > 0).all())
    found = total(
        Design(
            np.zeros(len(code), dtype=np.intp),
            ("survey",),
            per_plot[parts.unit_part] * parts.unit_area_ha,
            sampling_fraction=parts.unit_area_ha.sum() / areas[stays].sum() if corrected else 0.0,
            post_strata=code,
            post_stratum_sizes=areas[stays],
            post_stratum_names=[parts.names[place] for place in stays],
            single_unit="pooled" if pooled else "refuse",
        ),
        parts.unit_sum / parts.unit_area_ha,
    )
    return value, found.se, found.df


def _mergers(parts: Parts, merge_into: Mapping[str, str]) -> _Ints:
    """Return the sample that each sample is joined to; itself where it has more plots, or no partner in its total."""
    into = np.arange(len(parts.names))
    sampled = np.flatnonzero(~np.isinf(parts.df))
    names = pd.Index([parts.names[place] for place in sampled])
    partner = names.get_indexer(pd.Index(names.map(lambda name: merge_into.get(name, ""))))
    alone = np.isnan(parts.se[sampled]) & (partner >= 0)
    wanted = sampled[np.maximum(partner, 0)]
    alone &= parts.group[wanted] == parts.group[sampled]
    into[sampled[alone]] = wanted[alone]
    return end_of_mergers(into, parts.names, "sample")
