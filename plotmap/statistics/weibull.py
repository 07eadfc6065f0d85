"""Weibull distributions by maximum likelihood, for many samples at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats
from plotmap.statistics.weibull_likelihood import Likelihood
from plotmap.statistics.weibull_terms import Sizes, log_terms

TOO_FEW = "too few sizes"
ALL_ALIKE = "all sizes alike"
TOO_FEW_CLASSES = "too few classes"
NO_MAXIMUM = "no maximum"
"""Why a sample has no fit."""
_STEP = 1e-4
_ROUNDS, _HALVINGS = 60, 25
_LARGEST_MOVE = 1.0
_DECREMENT = 1e-13
_WIDEST = 5.0
"""A shape beyond e^±5 is no maximum, but the way to infinity."""
_LEAST_GAP = 1e-3
"""A location closer to the smallest size than this share of it has run into the pole of the likelihood."""
_REGULAR = 2.0
_THREE = 3
_LEAST_SIZES, _LEAST_CLASSES = 3, 3


@dataclass(frozen=True, slots=True)
class WeibullFit:
    """Fits of several samples; every array has one entry a sample, NaN where ``why_not`` has a word.

    Attributes
    ----------
    shape, scale, location : numpy.ndarray of float, shape (m,)
        Shape without unit, scale and location in the unit of the sizes; location 0 with two parameters.
    log_likelihood : numpy.ndarray of float, shape (m,)
        Of the weighted rows, at the maximum.
    covariance : numpy.ndarray of float, shape (m, p, p)
        Inverse of the observed information, of shape, scale and, with three parameters, location; with three
        also NaN where the shape is 2 or less, for which the usual errors do not hold (Smith 1985).
    why_not : tuple of str
        Empty where there is a fit; else one of `TOO_FEW`, `ALL_ALIKE`, `TOO_FEW_CLASSES`, `NO_MAXIMUM`.
    """

    shape: Floats
    scale: Floats
    location: Floats
    log_likelihood: Floats
    covariance: Floats
    why_not: tuple[str, ...]

    @property
    def n_parameters(self) -> int:
        """Two or three."""
        return int(self.covariance.shape[-1])

    @property
    def se(self) -> Floats:
        """Standard errors of the parameters, shape (m, p), by the observed information."""
        return np.sqrt(np.diagonal(self.covariance, axis1=1, axis2=2))


def fit_weibull(sizes: Sizes, *, three_parameters: bool = False) -> WeibullFit:
    """Fit the Weibull distribution to each sample by maximum likelihood.

    The density is f(x) = c/s ((x - a)/s)^(c - 1) exp(-((x - a)/s)^c), a = 0 with two parameters. Exact sizes
    enter by their density, classes by the integral over them; both given that a size reached the truncation,
    and weighted by the square of the size where the chance of getting into the sample went with it
    (size-biased distribution of order two: Gove & Patil 1998; Van Deusen 1986, Forest Science 32: 146-148).
    With weights this is a pseudo-likelihood; let them add up to the number of sizes, and compute errors from
    `weibull_scores`.

    With three parameters only a local maximum with a shape above 1 and a location above 0 is given: towards
    the smallest size the likelihood has a pole for shapes below 1 (Smith 1985, Biometrika 72: 67-90).

    Parameters
    ----------
    sizes : Sizes
        By `plotmap.statistics.sizes_of`.
    three_parameters : bool
        Whether a location is fitted too.

    Returns
    -------
    WeibullFit
        Samples without a fit have a word in ``why_not``: fewer than three sizes (by weight), all of one size
        or in one class, in fewer than three classes, or a likelihood without a maximum.
    """
    why = _cannot(sizes)
    m = sizes.n_samples
    start = _start(sizes)
    smallest = np.full(m, np.inf)
    np.minimum.at(smallest, sizes.sample, np.where(sizes.exact, sizes.low, sizes.high))
    likelihood = Likelihood.of_sizes(sizes, smallest if three_parameters else None)
    if three_parameters:
        gap = 0.5 * smallest
        start = np.column_stack([start, np.log(np.where(np.isfinite(gap), gap, 1.0))])
        start[:, 0] = np.maximum(start[:, 0], 0.3)
    theta, value, hessian, done = _climb(likelihood, start, why == "")
    fitted = done & (np.abs(theta[:, 0]) < _WIDEST)
    parameters = likelihood.parameters(theta)
    if three_parameters:
        away = np.exp(theta[:, 2]) > _LEAST_GAP * smallest
        fitted &= (parameters[0] > 1.0) & (parameters[2] > 0.0) & away
    why = np.where((why == "") & ~fitted, NO_MAXIMUM, why)
    lost = why != ""
    covariance = _covariance(theta, hessian, lost)
    if three_parameters:
        covariance[~(parameters[0] > _REGULAR)] = np.nan
    shape, scale, location = (np.where(lost, np.nan, part) for part in parameters)
    return WeibullFit(
        shape, scale, location, np.where(lost, np.nan, value), covariance, tuple(str(word) for word in why)
    )


def weibull_scores(sizes: Sizes, fit: WeibullFit) -> Floats:
    """Return the derivatives of each row's log-likelihood by shape, scale and, where fitted, location.

    Parameters
    ----------
    sizes : Sizes
        Rows; weights are not looked at.
    fit : WeibullFit
        Parameters of the samples.

    Returns
    -------
    numpy.ndarray of float, shape (n, p)
        By central differences; NaN in samples without a fit.
    """
    known = ~np.isnan(fit.shape)
    parts = [np.where(known, part, 1.0) for part in (fit.shape, fit.scale, fit.location)]
    located = fit.n_parameters == _THREE
    steps = (_STEP * parts[0], _STEP * parts[1], _STEP * parts[1])
    made = np.empty((len(sizes.low), fit.n_parameters))
    for parameter in range(fit.n_parameters):
        ends = []
        for sign in (1.0, -1.0):
            moved = [
                part + sign * steps[parameter] * (place == parameter) for place, part in enumerate(parts)
            ]
            ends.append(log_terms(sizes, moved[0], moved[1], moved[2] if located else None))
        with np.errstate(invalid="ignore"):
            made[:, parameter] = (ends[0] - ends[1]) / (2.0 * steps[parameter][sizes.sample])
    made[~known[sizes.sample]] = np.nan
    return made


def _cannot(sizes: Sizes) -> npt.NDArray[np.str_]:
    """Return for each sample the word that forbids a fit, empty where there is none."""
    m = sizes.n_samples
    n = sizes.sums(sizes.weight)
    distinct = np.unique(np.column_stack([sizes.sample, sizes.low, sizes.high]), axis=0)
    sample = distinct[:, 0].astype(np.intp)
    kinds = np.bincount(sample, minlength=m)
    classes = np.bincount(sample[distinct[:, 1] < distinct[:, 2]], minlength=m)
    only_classes = (kinds == classes) & (kinds < _LEAST_CLASSES)
    return np.select(
        [n < _LEAST_SIZES - 1e-9, kinds == 1, only_classes], [TOO_FEW, ALL_ALIKE, TOO_FEW_CLASSES], ""
    )


def _start(sizes: Sizes) -> Floats:
    """Return ln shape and ln scale from mean and spread of the logarithms, shape (m, 2)."""
    high = np.where(np.isinf(sizes.high), 1.5 * np.maximum(sizes.low, 1e-9), sizes.high)
    logs = np.log((np.maximum(sizes.low, sizes.truncation) + high) / 2.0)
    n = np.maximum(sizes.sums(sizes.weight), 1e-300)
    mean = sizes.sums(sizes.weight * logs) / n
    spread = np.sqrt(sizes.sums(sizes.weight * (logs - mean[sizes.sample]) ** 2) / n)
    shape = np.clip(np.pi / np.sqrt(6.0) / np.maximum(spread, 1e-9), 0.3, 50.0)
    return np.column_stack([np.log(shape), mean + np.euler_gamma / shape])


def _climb(
    likelihood: Likelihood, start: Floats, wanted: npt.NDArray[np.bool_]
) -> tuple[Floats, Floats, Floats, npt.NDArray[np.bool_]]:
    """Return logarithms of the parameters, likelihood, its second derivatives, and where a maximum was met.

    Newton's method on all samples at once; curvature that points the wrong way is turned round, and steps are
    halved until the likelihood rises.
    """
    m, p = start.shape
    theta = start.copy()
    value, hessian = np.full(m, -np.inf), np.full((m, p, p), np.nan)
    done, active = np.zeros(m, dtype=bool), wanted.copy()
    for _ in range(_ROUNDS):
        if not active.any():
            break
        left = likelihood.of(active)
        here, slope, curve = left.derivatives(theta)
        value[active], hessian[active] = here[active], curve[active]
        broken = active & ~(np.isfinite(slope).all(axis=1) & np.isfinite(curve).all(axis=(1, 2)))
        active &= ~broken
        if not active.any():
            break
        move, gain, concave = _newton(slope, curve, active)
        met = active & concave & (gain < _DECREMENT * np.maximum(np.abs(here), 1.0))
        done |= met
        active &= ~met
        moved = _line_search(left, theta, move, here, active)
        settled = active & ~moved  # no step rises any more: either round-off at the top, or stuck
        done |= settled & concave & (gain < 1e-6 * np.maximum(np.abs(here), 1.0))
        active &= moved & (np.abs(theta[:, 0]) < _WIDEST)
    return theta, value, hessian, done


def _newton(
    slope: Floats, curve: Floats, active: npt.NDArray[np.bool_]
) -> tuple[Floats, Floats, npt.NDArray[np.bool_]]:
    """Return the step of each sample, the rise it promises, and where the likelihood is concave."""
    m, p = slope.shape
    values, vectors = np.ones((m, p)), np.broadcast_to(np.eye(p), (m, p, p)).copy()
    values[active], vectors[active] = np.linalg.eigh(-curve[active])
    concave = np.asarray((values > 0).all(axis=1), dtype=np.bool_)
    bent = np.maximum(np.abs(values), 1e-8 * np.abs(values).max(axis=1, keepdims=True))
    along = np.einsum("mij,mi->mj", vectors, np.where(active[:, None], slope, 0.0))
    move = np.einsum("mij,mj->mi", vectors, along / np.maximum(bent, 1e-300))
    gain = (along**2 / np.maximum(bent, 1e-300)).sum(axis=1)
    longest = np.abs(move).max(axis=1, keepdims=True)
    return move * np.minimum(1.0, _LARGEST_MOVE / np.maximum(longest, 1e-300)), gain, concave


def _line_search(
    likelihood: Likelihood,
    theta: Floats,
    move: Floats,
    here: Floats,
    active: npt.NDArray[np.bool_],
) -> npt.NDArray[np.bool_]:
    """Move `theta` where the likelihood rises, halving steps; return where it did."""
    left = active.copy()
    moved = np.zeros_like(active)
    length = np.ones(len(theta))
    for _ in range(_HALVINGS):
        if not left.any():
            break
        tried = theta + np.where(left, length, 0.0)[:, None] * move
        there = likelihood.value(tried)
        rises = left & np.isfinite(there) & (there > here)
        theta[rises] = tried[rises]
        moved |= rises
        left &= ~rises
        length = length / 2.0
    return moved


def _covariance(theta: Floats, hessian: Floats, lost: npt.NDArray[np.bool_]) -> Floats:
    """Return the inverse information, from logarithms to the parameters themselves."""
    made = np.full_like(hessian, np.nan)
    kept = ~lost
    if kept.any():
        slopes = np.exp(theta[kept])
        if theta.shape[1] == _THREE:
            slopes[:, 2] = -slopes[:, 2]
        made[kept] = np.linalg.inv(-hessian[kept]) * slopes[:, :, None] * slopes[:, None, :]
    return made
