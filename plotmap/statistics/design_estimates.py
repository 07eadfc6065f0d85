"""Means, totals and ratios of a `Design`, for the whole population or for many domains at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import sparse

from plotmap.statistics.designs import Design
from plotmap.statistics.estimates import Floats, Indexes


@dataclass(frozen=True, slots=True, eq=False)
class DesignEstimate:
    """Estimates of D domains; all arrays have shape (D,).

    Attributes
    ----------
    value : numpy.ndarray of float
        In the unit of the values (of y per unit of x for a ratio). NaN for a domain that no unit is in: nothing is
        known of it, not even that it is zero.
    se : numpy.ndarray of float
        Standard error, in the same unit; NaN where `value` is.
    df : numpy.ndarray of float
        Degrees of freedom of `se`; NaN where `value` is.
    n_units : numpy.ndarray of int
        Units in the domain.
    """

    value: Floats
    se: Floats
    df: Floats
    n_units: Indexes


def total(
    design: Design, y: npt.ArrayLike, domain: npt.ArrayLike | None = None, n_domains: int | None = None
) -> DesignEstimate:
    """Estimate totals of a population, or of domains of it: Σ w y.

    The variance is the sum over strata of ``(1 - f) m / (m - 1) Σ (z - mean z)²``, z being the total of w e over a
    cluster (Särndal, Swensson & Wretman 1992, Model Assisted Survey Sampling, ch. 4 and 5), with e = y inside the
    domain and 0 outside; with post-strata e less its mean over the post-stratum (their ch. 7).

    Parameters
    ----------
    design : Design
        Of n units.
    y : array_like of float, shape (n,)
        One value a unit, zeros too.
    domain : array_like of int, shape (n,), optional
        Domain of each unit, 0 to `n_domains` - 1, or -1 for none. Not given: one domain, of all units. A species
        or a class, of which units hold some and some none, is no such domain: give its y, with zeros.
    n_domains : int, optional
        Number of domains; goes with `domain`.

    Returns
    -------
    DesignEstimate
        Degrees of freedom are Satterthwaite's over the strata (1946, Biometrics Bulletin 2: 110-114), and with
        clusters or post-strata the clusters less the strata, both of the strata in which the domain has units.

    Raises
    ------
    ValueError
        A value is NaN or infinite, a domain is not in range, or lengths differ.

    Notes
    -----
    Memory grows with the units, with post-strata also with domains × clusters in a post-stratum of the domain.

    Examples
    --------
    >>> found = total(Design([0, 0], weights=[10.0, 10.0]), [3.0, 5.0])
    >>> found.value.item(), round(found.se.item(), 9), found.df.item()
    (80.0, 20.0, 1.0)
    """
    values = _values(y, design, "y")
    place, count = _domains(domain, n_domains, design)
    estimate = _sums(place, design.final_weights * values, count)
    return _with_error(design, estimate, values, place, np.ones(count, dtype=bool))


def mean(
    design: Design, y: npt.ArrayLike, domain: npt.ArrayLike | None = None, n_domains: int | None = None
) -> DesignEstimate:
    """Estimate means over the units of a population, or of domains of it: Σ w y / Σ w.

    The ratio with x = 1. In a stratified design with weights N / m it is Σ N mean / Σ N with the variance of the
    textbook (Cochran 1977, Sampling Techniques, ch. 5).

    Parameters
    ----------
    design, y, domain, n_domains
        As for `total`.

    Returns
    -------
    DesignEstimate
        As for `total`.

    Raises
    ------
    ValueError
        As for `total`.
    """
    return ratio(design, y, np.ones(len(design.final_weights)), domain, n_domains)


def ratio(
    design: Design,
    y: npt.ArrayLike,
    x: npt.ArrayLike,
    domain: npt.ArrayLike | None = None,
    n_domains: int | None = None,
) -> DesignEstimate:
    """Estimate ratios of totals R = Σ w y / Σ w x, by linearisation.

    As for `total`, with e = (y - R x) / Σ w x (Särndal, Swensson & Wretman 1992, section 5.6; Cochran 1977, ch. 6,
    with the sample's own mean of x).

    Parameters
    ----------
    design, y, domain, n_domains
        As for `total`.
    x : array_like of float, shape (n,)
        What y is wanted per unit of; a domain's sum must be above zero, or it has no ratio.

    Returns
    -------
    DesignEstimate
        As for `total`; NaN also where Σ w x of the domain is 0.

    Raises
    ------
    ValueError
        As for `total`; or Σ w x of a domain is below zero.
    """
    above, below = _values(y, design, "y"), _values(x, design, "x")
    place, count = _domains(domain, n_domains, design)
    sizes = _sums(place, design.final_weights * below, count)
    if (sizes < 0).any():
        raise ValueError(f"the total of x in domain {int((sizes < 0).argmax())} is below zero: it is no size")
    known = sizes > 0
    estimate = np.divide(
        _sums(place, design.final_weights * above, count), sizes, out=np.zeros(count), where=known
    )
    inside = place >= 0
    per_unit = np.zeros(len(above))
    at = place[inside]
    residual = above[inside] - estimate[at] * below[inside]
    per_unit[inside] = np.divide(residual, sizes[at], out=np.zeros(len(at)), where=known[at])
    return _with_error(design, estimate, per_unit, place, known)


def _with_error(
    design: Design, estimate: Floats, e: Floats, place: Indexes, known: npt.NDArray[np.bool_]
) -> DesignEstimate:
    """Return estimates with the errors of their linearised values `e`; missing where nothing is known."""
    count = len(estimate)
    n_units = np.bincount(place[place >= 0], minlength=count)
    squares = _squares(_cluster_totals(design, design.final_weights, e, place, count), design)
    m = np.bincount(design.cluster_stratum, minlength=len(design.fractions)).astype(float)
    factor = np.divide((1.0 - design.fractions) * m, m - 1.0, out=np.zeros(len(m)), where=m > 1)
    parts = squares.multiply(factor).tocsr() + _lent(design, e, place, count, m)
    of_domain = np.asarray(parts.sum(axis=1)).reshape(-1) + _lent_to_groups(design, e, place, count)
    blank = (n_units == 0) | ~known
    return DesignEstimate(
        np.where(blank, np.nan, estimate),
        np.where(blank, np.nan, np.sqrt(of_domain)),
        np.where(blank, np.nan, _freedom(design, parts, place, count, m)),
        n_units,
    )


def _cluster_totals(
    design: Design, weight: Floats, e: Floats, place: Indexes, count: int
) -> sparse.csr_array:
    """Return the total of weight × e of each domain and cluster, less the means of post-strata; (D, m)."""
    inside = place >= 0
    cells = (place[inside], design.unit_cluster[inside])
    shape = (count, len(design.cluster_stratum))
    own = sparse.csr_array((weight[inside] * e[inside], cells), shape=shape)
    if design.groups is None:
        return own
    groups = design.groups
    n_groups = int(groups.max()) + 1
    whole = np.bincount(groups, design.base_weights, n_groups)
    shares = design.base_weights[inside] * e[inside] / whole[groups[inside]]
    means = sparse.csr_array((shares, (place[inside], groups[inside])), shape=(count, n_groups))
    of_groups = sparse.csr_array((weight, (groups, design.unit_cluster)), shape=(n_groups, shape[1]))
    return sparse.csr_array(own - means @ of_groups)


def _squares(totals: sparse.csr_array, design: Design) -> sparse.csr_array:
    """Return Σ (z - mean z)² over the clusters of each stratum, zeros of clusters outside too; (D, H)."""
    cells = totals.tocoo()
    n_strata = len(design.fractions)
    m = np.bincount(design.cluster_stratum, minlength=n_strata)
    rows = cells.coords[0].astype(np.int64)
    stratum = design.cluster_stratum[cells.coords[1]]
    keys, of = np.unique(rows * n_strata + stratum, return_inverse=True)
    there = np.bincount(of, minlength=len(keys))
    middle = np.bincount(of, cells.data, len(keys)) / m[keys % n_strata]
    squares = np.bincount(of, (cells.data - middle[of]) ** 2, len(keys))
    squares += (m[keys % n_strata] - there) * middle**2
    shape = (totals.shape[0], n_strata)
    return sparse.csr_array((squares, (keys // n_strata, keys % n_strata)), shape=shape)


def _lent(design: Design, e: Floats, place: Indexes, count: int, m: Floats) -> sparse.csr_array:
    """Return what strata with two clusters or more add for those with one, each by its part of the pool; (D, H)."""
    alone = (m == 1) & (design.fractions < 1)
    if not alone.any():
        return sparse.csr_array((count, len(m)))
    n_in = np.bincount(design.unit_cluster)
    weight = np.bincount(design.unit_cluster, design.final_weights) / n_in
    borrowers = alone[design.cluster_stratum]
    asked = ((1 - design.fractions[design.cluster_stratum]) * weight**2)[borrowers].sum()
    plain = _squares(_cluster_totals(design, np.ones(len(e)), e, place, count), design)
    lends = (m > 1).astype(float)
    return sparse.csr_array(plain.multiply(lends * asked / (m - 1.0)[m > 1].sum()).tocsr())


def _lent_to_groups(design: Design, e: Floats, place: Indexes, count: int) -> Floats:
    """Return what post-strata with one unit add: their residual is zero whatever their variance is; (D,)."""
    if design.groups is None:
        return np.zeros(count)
    n = np.bincount(design.groups)
    alone = n[design.groups] == 1
    if not alone.any():
        return np.zeros(count)
    base = design.base_weights
    asked = (design.final_weights[alone] ** 2 / base[alone]).sum()
    # square roots of the weights: squares of residuals come out weighed by them, those outside the domain too
    weighed = _cluster_totals(design, np.sqrt(base), e, place, count)
    squares = np.asarray(weighed.multiply(weighed).sum(axis=1)).reshape(-1)
    return np.asarray(asked * squares / (n[n > 1] - 1).sum())


def _freedom(design: Design, parts: sparse.csr_array, place: Indexes, count: int, m: Floats) -> Floats:
    """Return the degrees of freedom of each domain."""
    inside = place >= 0
    stratum = design.cluster_stratum[design.unit_cluster[inside]]
    keys = np.unique(place[inside].astype(np.int64) * len(m) + stratum)
    plain = np.bincount(keys // len(m), (m - 1.0)[keys % len(m)], count)
    if design.clusters is not None or design.groups is not None:
        return plain.astype(np.float64)
    squares = parts.multiply(parts).multiply(np.divide(1.0, m - 1.0, out=np.zeros(len(m)), where=m > 1))
    below = np.asarray(squares.sum(axis=1)).reshape(-1)
    above = np.asarray(parts.sum(axis=1)).reshape(-1) ** 2
    df: Floats = np.divide(above, below, out=plain.astype(np.float64), where=below > 0)
    return df


def _values(given: npt.ArrayLike, design: Design, what: str) -> Floats:
    """Return one value a unit."""
    values = np.asarray(given, dtype=float)
    if values.shape != design.final_weights.shape:
        raise ValueError(
            f"{what} has shape {values.shape}, but must have one entry for each of {len(design.final_weights)} units"
        )
    if not np.isfinite(values).all():
        unit = int((~np.isfinite(values)).argmax())
        stratum = design.stratum_names[int(np.asarray(design.strata)[unit])]
        raise ValueError(
            f"stratum {stratum}: {what} of unit {unit} is {values[unit]:g}, but must be finite: leave such units out "
            "of the design, or count them as zeros"
        )
    return values


def _domains(domain: npt.ArrayLike | None, n_domains: int | None, design: Design) -> tuple[Indexes, int]:
    """Return the domain of each unit and the number of domains."""
    n = len(design.final_weights)
    if domain is None and n_domains is None:
        return np.zeros(n, dtype=np.intp), 1
    if domain is None or n_domains is None:
        raise ValueError("domain and n_domains go together: give both, or none")
    place = np.asarray(domain)
    if place.shape != (n,):
        raise ValueError(f"domain has shape {place.shape}, but must have one entry for each of {n} units")
    if not np.issubdtype(place.dtype, np.integer) or place.min() < -1 or place.max() >= n_domains:
        raise ValueError(f"domain must be whole numbers from 0 to {n_domains - 1}, or -1 for none")
    return place.astype(np.intp), n_domains


def _sums(place: Indexes, values: Floats, count: int) -> Floats:
    """Return the sum of the values of each domain."""
    inside = place >= 0
    return np.bincount(place[inside], values[inside], count).astype(np.float64)
