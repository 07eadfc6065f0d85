"""Sampling designs: how a sample was drawn, and what population it stands for. Knows no trees and no geography."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats, Indexes

SingleUnit = Literal["refuse", "merge", "pooled"]
"""What is done about a stratum, or a post-stratum, with one unit: see `Design`."""
_POLICIES = ("refuse", "merge", "pooled")
_FEW = 5
"""So many names are told in a message."""


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """A sample of n units: simple, stratified, post-stratified or of whole clusters, in any combination.

    A simple random sample is a design of one stratum. Clusters are drawn within strata and taken whole; what
    varies is the total of a cluster (the ultimate cluster of Cochran 1977, Sampling Techniques, ch. 9). Units
    without `clusters` are clusters of one.

    Parameters
    ----------
    strata : array_like of int, shape (n,)
        Stratum of each unit, 0 to H - 1.
    stratum_names : sequence of str, length H
        Names for messages and `merge_into`. Every stratum must have a unit. "all" where there is one.
    weights : array_like of float, shape (n,), optional
        What each unit stands for, above zero: the inverse of its chance of being drawn, or the size of the unit
        where estimates per unit of size are wanted. Not given: N / m of its stratum where `stratum_sizes` are
        given, else 1.
    clusters : array_like of int, shape (n,), optional
        Cluster of each unit, 0 or more, in any numbering; numbers need not differ between strata.
    stratum_sizes : array_like of float, shape (H,), optional
        N, the clusters (without clusters: units) in the whole stratum; not below the m sampled.
    sampling_fraction : array_like of float, shape () or (H,), optional
        f, share of the stratum's clusters (or units) that was sampled, 0 to 1; variances are multiplied by 1 - f,
        the finite-population correction where variances have divisor m - 1. Not given: m / N where
        `stratum_sizes` are given, else 0, which leaves the correction out.
    post_strata : array_like of int, shape (n,), optional
        Post-stratum of each unit, 0 to G - 1: a group that is known only after sampling, of known size.
    post_stratum_sizes : array_like of float, shape (G,), optional
        What the weights of each post-stratum must add up to, above zero. Goes with `post_strata`.
    post_stratum_names : sequence of str, length G, optional
        Names for messages and `merge_into`; the numbers where not given.
    single_unit : {"refuse", "merge", "pooled"}
        For strata with one cluster and post-strata with one unit, which have no variance of their own; never
        is it taken as zero. ``"refuse"``: ValueError. ``"merge"``: joined for the variance with the stratum that
        `merge_into` names; sizes are added up, and joined post-strata are one also in the estimate.
        ``"pooled"``: the variance of one unit is pooled over the other strata, Σ squares / Σ degrees of freedom,
        and weighted by the single unit's weight. A stratum sampled whole (f = 1) has no variance and needs none.
    merge_into : mapping of str to str
        For ``"merge"``: the name of a stratum with one unit, and of the one it joins.

    Attributes
    ----------
    final_weights : numpy.ndarray of float, shape (n,)
        Weights after post-stratification.

    Raises
    ------
    ValueError
        There is no unit; a stratum or post-stratum has no unit, or one unit and nothing is said of it, or a
        `stratum_sizes` below its sample, or a `sampling_fraction` outside 0 to 1; a weight or a size is zero,
        negative, infinite or NaN; codes are not whole numbers in range; lengths differ; a merger leads nowhere.
        The message names the stratum.

    Notes
    -----
    Post-strata with ``"pooled"``: squares of residuals are weighed by the weights given, so that weights which
    are sizes make a small unit vary more.

    Examples
    --------
    Two of 20 units, and three of 30:

    >>> design = Design([0, 0, 1, 1, 1], ("valley", "slope"), stratum_sizes=[20, 30])
    >>> design.final_weights.tolist()
    [10.0, 10.0, 10.0, 10.0, 10.0]
    """

    strata: npt.ArrayLike
    stratum_names: Sequence[str] = ("all",)
    weights: npt.ArrayLike | None = None
    clusters: npt.ArrayLike | None = None
    stratum_sizes: npt.ArrayLike | None = None
    sampling_fraction: npt.ArrayLike | None = None
    post_strata: npt.ArrayLike | None = None
    post_stratum_sizes: npt.ArrayLike | None = None
    post_stratum_names: Sequence[str] | None = None
    single_unit: SingleUnit = "refuse"
    merge_into: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    final_weights: Floats = field(init=False)
    unit_cluster: Indexes = field(init=False)
    """Cluster of each unit, 0 to m - 1, shape (n,)."""
    cluster_stratum: Indexes = field(init=False)
    """Stratum of each cluster after mergers, shape (m,)."""
    fractions: Floats = field(init=False)
    """Sampling fraction of each stratum after mergers, shape (H,)."""
    base_weights: Floats = field(init=False)
    """Weights before post-stratification, shape (n,)."""
    groups: Indexes | None = field(init=False)
    """Post-stratum of each unit after mergers, shape (n,)."""

    def __post_init__(self) -> None:
        """Check everything and work out what estimates need."""
        if self.single_unit not in _POLICIES:
            raise ValueError(
                f"single_unit is {self.single_unit!r}, but must be one of {', '.join(_POLICIES)}"
            )
        strata = _codes(self.strata, len(self.stratum_names), "strata")
        _each_has_a_unit(strata, self.stratum_names, "stratum")
        unit_cluster, of_cluster = _clusters(self.clusters, strata)
        sampled = np.bincount(of_cluster, minlength=len(self.stratum_names))
        sizes = _sizes(self.stratum_sizes, sampled, self.stratum_names)
        own = _fractions(self.sampling_fraction, sampled, sizes, self.stratum_names)
        weights = self._weights(strata, sampled, sizes)
        into = self._joined(sampled, own < 1, self.stratum_names, "stratum")
        place = into[of_cluster]
        fractions = _joined_fractions(own, sampled, sizes, into)
        self._refuse_if_nobody_lends(np.bincount(place, minlength=len(into)), fractions < 1)
        for name, value in (
            ("unit_cluster", unit_cluster),
            ("cluster_stratum", place),
            ("fractions", fractions),
            ("base_weights", weights),
        ):
            object.__setattr__(self, name, value)
        self._post_stratify(weights)

    def _weights(self, strata: Indexes, sampled: Indexes, sizes: Floats | None) -> Floats:
        """Return the weights given, or those of the stratum sizes."""
        if self.weights is None:
            return np.ones(len(strata)) if sizes is None else (sizes / sampled)[strata]
        weights = _numbers(self.weights, len(strata), "weights", "units")
        wrong = ~(np.isfinite(weights) & (weights > 0))
        if wrong.any():
            unit = int(wrong.argmax())
            raise ValueError(
                f"stratum {self.stratum_names[strata[unit]]}: the weight of unit {unit} is {weights[unit]:g}, but "
                "weights must be above zero and finite: leave units out that stand for nothing"
            )
        return weights

    def _joined(
        self, sampled: Indexes, varies: npt.NDArray[np.bool_], names: Sequence[str], what: str
    ) -> Indexes:
        """Return the stratum each stratum is joined to: itself but for those with one unit that are merged."""
        into = np.arange(len(names))
        alone = np.flatnonzero((sampled == 1) & varies).tolist()
        if not alone or self.single_unit == "pooled":
            return into
        if self.single_unit == "refuse":
            raise ValueError(
                f"{_named(names, alone, what, 'one')} unit, which has no variance; two or more are needed: sample "
                "more, or set single_unit to 'merge' (with merge_into) or 'pooled'"
            )
        places = {name: place for place, name in enumerate(names)}
        lacking = [i for i in alone if places.get(self.merge_into.get(names[i], ""), i) == i]
        if lacking:
            raise ValueError(
                f"{_named(names, lacking, what, 'one')} unit, and merge_into names no other {what} for it: "
                f"name one of {', '.join(names[:_FEW])}"
            )
        into[alone] = [places[self.merge_into[names[i]]] for i in alone]
        return end_of_mergers(into, names, what)

    def _refuse_if_nobody_lends(self, sampled: Indexes, varies: npt.NDArray[np.bool_]) -> None:
        """Refuse strata with one unit where no stratum has two."""
        alone = np.flatnonzero((sampled == 1) & varies)
        if len(alone) and not (sampled > 1).any():
            raise ValueError(
                f"{_named(self.stratum_names, alone.tolist(), 'stratum', 'one')} unit, and no stratum has two or "
                "more to pool a variance from: sample more units"
            )

    def _post_stratify(self, weights: Floats) -> None:
        """Set weights that add up to the known sizes of the post-strata."""
        if self.post_strata is None or self.post_stratum_sizes is None:
            if self.post_strata is not None or self.post_stratum_sizes is not None:
                raise ValueError("post_strata and post_stratum_sizes go together: give both, or none")
            object.__setattr__(self, "groups", None)
            object.__setattr__(self, "final_weights", weights)
            return
        known = np.atleast_1d(np.asarray(self.post_stratum_sizes, dtype=float))
        names = self.post_stratum_names or [str(number) for number in range(len(known))]
        sizes = _above_zero(known, names, "post-stratum", "post_stratum_sizes")
        groups = _codes(self.post_strata, len(names), "post_strata", len(weights))
        _each_has_a_unit(groups, names, "post-stratum")
        sampled = np.bincount(groups, minlength=len(names))
        into = self._joined(sampled, np.ones(len(names), dtype=bool), names, "post-stratum")
        groups = into[groups]
        joined = np.bincount(into, sizes, len(names))
        found = np.bincount(groups, weights, len(names))
        object.__setattr__(self, "groups", groups)
        object.__setattr__(self, "final_weights", weights * joined[groups] / found[groups])
        single = np.bincount(groups, minlength=len(names)) == 1
        if single.any() and (self.clusters is not None or not (sampled > 1).any()):
            raise ValueError(
                f"{_named(names, np.flatnonzero(single).tolist(), 'post-stratum', 'one')} unit, and a variance is "
                "pooled only in designs without clusters, from post-strata with two units or more: merge "
                "it with another"
            )


def end_of_mergers(into: Indexes, names: Sequence[str], what: str) -> Indexes:
    """Return where chains of mergers end; two that name each other become the first of them.

    Parameters
    ----------
    into : numpy.ndarray of int, shape (n,)
        What each is joined to; itself where it stays.
    names : sequence of str, length n
        Names, for the message.
    what : str
        What they are, for the message.

    Returns
    -------
    numpy.ndarray of int, shape (n,)
        For each the one that stays.

    Raises
    ------
    ValueError
        Three or more lead round in a circle.
    """
    circle = (into[into] == np.arange(len(into))) & (into > np.arange(len(into)))
    into = np.where(circle, np.arange(len(into)), into)
    for _ in names:
        if (into[into] == into).all():
            return into
        into = into[into]
    astray = np.flatnonzero(into[into] != into)
    raise ValueError(
        f"merge_into leads round in a circle from {what} {names[astray[0]]}: name one that stays"
    )


def _clusters(clusters: npt.ArrayLike | None, strata: Indexes) -> tuple[Indexes, Indexes]:
    """Return the cluster of each unit, numbered through from 0, and the stratum of each cluster."""
    if clusters is None:
        return np.arange(len(strata)), strata
    codes = _codes(clusters, None, "clusters", len(strata))
    pairs, place = np.unique(np.column_stack((strata, codes)), axis=0, return_inverse=True)
    return place.reshape(-1).astype(np.intp), pairs[:, 0].astype(np.intp)


def _sizes(given: npt.ArrayLike | None, sampled: Indexes, names: Sequence[str]) -> Floats | None:
    """Return the population sizes of the strata after checking them against the sample."""
    if given is None:
        return None
    sizes = _above_zero(given, names, "stratum", "stratum_sizes")
    small = sizes < sampled
    if small.any():
        at = int(small.argmax())
        raise ValueError(
            f"stratum {names[at]}: {sampled[at]} units were sampled of a population of {sizes[at]:g}; it cannot "
            "be smaller than its sample: correct stratum_sizes"
        )
    return sizes


def _fractions(
    given: npt.ArrayLike | None, sampled: Indexes, sizes: Floats | None, names: Sequence[str]
) -> Floats:
    """Return the sampling fraction of each stratum."""
    if given is None:
        return np.zeros(len(names)) if sizes is None else sampled / sizes
    own = np.asarray(given, dtype=float)
    fractions = _numbers(
        np.full(len(names), own) if own.ndim == 0 else own, len(names), "sampling_fraction", "strata"
    )
    wrong = ~((fractions >= 0) & (fractions <= 1))
    if wrong.any():
        at = int(wrong.argmax())
        raise ValueError(
            f"stratum {names[at]}: sampling_fraction is {fractions[at]:g}, but must be 0 to 1: it is the share of "
            "the stratum that was sampled"
        )
    return fractions


def _joined_fractions(own: Floats, sampled: Indexes, sizes: Floats | None, into: Indexes) -> Floats:
    """Return the sampling fractions of joined strata: all that was sampled over all there is."""
    of = np.divide(sampled, own, out=np.zeros(len(own)), where=own > 0) if sizes is None else sizes
    both = np.bincount(into, sampled, len(into))
    whole = np.bincount(into, of, len(into))
    merged = np.divide(both, whole, out=np.zeros(len(into)), where=whole > 0)
    changed = np.bincount(into, minlength=len(into)) > 1
    without = np.bincount(into, own == 0, len(into)) > 0
    return np.where(changed, np.where(without, 0.0, merged), own)


def _codes(given: npt.ArrayLike, n_codes: int | None, what: str, length: int | None = None) -> Indexes:
    """Return codes of units as whole numbers after checking length and range."""
    codes = np.asarray(given)
    if codes.ndim != 1 or (length is not None and len(codes) != length):
        raise ValueError(f"{what} has shape {codes.shape}, but must have one entry for each unit")
    if not len(codes):
        raise ValueError(f"{what} is empty: a sample has at least one unit, and two give a variance")
    top = "" if n_codes is None else f" to {n_codes - 1}"
    high = n_codes is not None and bool((codes >= n_codes).any())
    if not np.issubdtype(codes.dtype, np.integer) or codes.min() < 0 or high:
        raise ValueError(f"{what} must be whole numbers from 0{top}: number them without gaps")
    return codes.astype(np.intp)


def _numbers(given: npt.ArrayLike, length: int, what: str, of: str) -> Floats:
    """Return a column of numbers after checking its length."""
    values = np.asarray(given, dtype=float)
    if values.shape != (length,):
        raise ValueError(
            f"{what} has shape {values.shape}, but must have one entry for each of {length} {of}"
        )
    return values


def _above_zero(given: npt.ArrayLike, names: Sequence[str], what: str, argument: str) -> Floats:
    """Return sizes of strata after checking that they are sizes."""
    sizes = _numbers(np.atleast_1d(np.asarray(given, dtype=float)), len(names), argument, f"names of {what}")
    wrong = ~(np.isfinite(sizes) & (sizes > 0))
    if wrong.any():
        at = int(wrong.argmax())
        raise ValueError(
            f"{what} {names[at]}: {argument} is {sizes[at]:g}, but must be above zero and finite"
        )
    return sizes


def _each_has_a_unit(codes: Indexes, names: Sequence[str], what: str) -> None:
    """Refuse strata that no unit is in."""
    empty = np.flatnonzero(np.bincount(codes, minlength=len(names)) == 0)
    if len(empty):
        raise ValueError(
            f"{_named(names, empty.tolist(), what, 'no')} unit: nothing is known of it. "
            "Leave it out and say so, or sample it"
        )


def _named(names: Sequence[str], places: list[int], what: str, how_many: str) -> str:
    """Return the strata in words, with their verb and how many units they have."""
    told = ", ".join(names[place] for place in places[:_FEW]) + (" and others" if len(places) > _FEW else "")
    plural = {"stratum": "strata", "post-stratum": "post-strata"}[what]
    return f"{what} {told} has {how_many}" if len(places) == 1 else f"{plural} {told} have {how_many}"
