"""The likelihood of Weibull distributions of many samples, with its first and second derivatives."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
import numpy.typing as npt

from plotmap.statistics.estimates import Floats
from plotmap.statistics.weibull_terms import Sizes, log_density, log_mass

_STEP = 1e-4


@dataclass(frozen=True, slots=True)
class Likelihood:
    """Log-likelihoods of samples by the logarithms of their parameters.

    Sizes known exactly add densities, whose derivatives are written out. Classes, and what is divided by because
    sizes below the truncation could not be in the sample, are integrals: few rows, as all sizes of a sample
    share them, so that differences are good enough for their derivatives.

    Attributes
    ----------
    exact : Sizes
        Rows known exactly.
    masses : Sizes
        Classes, and the whole range above each truncation; weights of the latter are negative.
    smallest : numpy.ndarray of float, shape (m,) or None
        The third parameter is the logarithm of the location's distance below this; None with two parameters.
    """

    exact: Sizes
    masses: Sizes
    smallest: Floats | None

    @classmethod
    def of_sizes(cls, sizes: Sizes, smallest: Floats | None) -> Self:
        """Return the likelihood of all samples."""
        return cls(sizes.of(sizes.exact), _masses(sizes), smallest)

    def of(self, samples: npt.NDArray[np.bool_]) -> Self:
        """Return the likelihood of some samples only; the others get 0."""
        exact, masses = (part.of(samples[part.sample]) for part in (self.exact, self.masses))
        return replace(self, exact=exact, masses=masses)

    def parameters(self, theta: Floats) -> tuple[Floats, Floats, Floats]:
        """Return shape, scale and location, the last 0 with two parameters."""
        shape, scale = np.exp(theta[:, 0]), np.exp(theta[:, 1])
        if self.smallest is None:
            return shape, scale, np.zeros(len(theta))
        return shape, scale, self.smallest - np.exp(theta[:, 2])

    def value(self, theta: Floats) -> Floats:
        """Return the log-likelihood of each sample.

        Parameters
        ----------
        theta : numpy.ndarray of float, shape (m, p)
            Logarithms of shape, scale and, with three parameters, the gap below the smallest size.

        Returns
        -------
        numpy.ndarray of float, shape (m,)
            -inf or NaN where a size is impossible.
        """
        terms = log_density(self.exact, *self._located(theta))
        with np.errstate(invalid="ignore"):
            return self.exact.sums(self.exact.weight * terms) + self._of_masses(theta)

    def derivatives(self, theta: Floats) -> tuple[Floats, Floats, Floats]:
        """Return the log-likelihood, its slope (m, p) and its second derivatives (m, p, p)."""
        value, slope, curve = _by_differences(self._of_masses, theta)
        more = self._of_densities(theta)
        with np.errstate(invalid="ignore"):
            return value + more[0], slope + more[1], curve + more[2]

    def _located(self, theta: Floats) -> tuple[Floats, Floats, Floats | None]:
        """Return the parameters, without a location where there is none."""
        shape, scale, location = self.parameters(theta)
        return shape, scale, None if self.smallest is None else location

    def _of_masses(self, theta: Floats) -> Floats:
        """Return what the integrals add to the log-likelihood."""
        rows = self.masses
        shape, scale, location = self._located(theta)
        c, s = shape[rows.sample], scale[rows.sample]
        a = None if location is None else location[rows.sample]
        with np.errstate(invalid="ignore"):
            return rows.sums(rows.weight * log_mass(rows.low, rows.high, rows.order, c, s, a))

    def _of_densities(self, theta: Floats) -> tuple[Floats, Floats, Floats]:
        """Return what exact sizes add to the log-likelihood, its slope and its second derivatives.

        With z = ln((x - a) / s), u = exp(cz), g the gap and w = g / (x - a): ln f = ln c - ln s + (c - 1) z - u, and
        by the logarithms of c, s and g, dz = (0, -1, w).
        """
        rows, p = self.exact, theta.shape[1]
        shape, scale, location = self.parameters(theta)
        of = rows.sample
        c, x = shape[of], rows.low
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            logs = np.log((x - location[of]) / scale[of])
            cz = c * logs
            u = np.exp(cz)
            value = np.log(c / scale[of]) + cz - logs - u + rows.order * np.log(x)
            turn = c * (1.0 - u)
            bend = -c * c * u
            by_z = turn - 1.0
            twist = turn - c * u * cz
            slopes = [1.0 + cz * (1.0 - u), -turn]
            curves = {(0, 0): cz * (1.0 - u) - u * cz**2, (0, 1): -twist, (1, 1): bend}
            if p > len(slopes):
                w = np.exp(theta[of, 2]) / (x - location[of])
                slopes.append(by_z * w)
                curves |= {(0, 2): twist * w, (1, 2): -bend * w, (2, 2): bend * w**2 + by_z * (w - w**2)}
            m = rows.n_samples
            slope, curve = np.empty((m, p)), np.empty((m, p, p))
            for i in range(p):
                slope[:, i] = rows.sums(rows.weight * slopes[i])
            for (i, j), term in curves.items():
                curve[:, i, j] = curve[:, j, i] = rows.sums(rows.weight * term)
            return rows.sums(rows.weight * value), slope, curve


def _masses(sizes: Sizes) -> Sizes:
    """Return the classes, and one row for each truncation and order of a sample with what its sizes weigh."""
    classes = sizes.of(~sizes.exact)
    classes = replace(classes, low=np.maximum(classes.low, classes.truncation))
    cut = sizes.of((sizes.truncation > 0) | (sizes.order > 0))
    kinds, place = np.unique(
        np.column_stack([cut.sample, cut.order, cut.truncation]), axis=0, return_inverse=True
    )
    whole = replace(
        cut,
        low=kinds[:, 2],
        high=np.full(len(kinds), np.inf),
        weight=-np.bincount(place.ravel(), cut.weight, len(kinds)).astype(float),
        order=kinds[:, 1].astype(np.intp),
        truncation=kinds[:, 2],
        sample=kinds[:, 0].astype(np.intp),
    )
    return classes.joined(whole)


def _by_differences(likelihood: Callable[[Floats], Floats], theta: Floats) -> tuple[Floats, Floats, Floats]:
    """Return value, first and second derivatives of all samples by central differences."""
    m, p = theta.shape
    steps = np.eye(p) * _STEP
    here = likelihood(theta)
    slope, curve = np.empty((m, p)), np.empty((m, p, p))
    with np.errstate(invalid="ignore"):
        for i in range(p):
            up, down = likelihood(theta + steps[i]), likelihood(theta - steps[i])
            slope[:, i] = (up - down) / (2 * _STEP)
            curve[:, i, i] = (up - 2 * here + down) / _STEP**2
        for i in range(p):
            for j in range(i):
                both = likelihood(theta + steps[i] + steps[j]) + likelihood(theta - steps[i] - steps[j])
                apart = likelihood(theta + steps[i] - steps[j]) + likelihood(theta - steps[i] + steps[j])
                curve[:, i, j] = curve[:, j, i] = (both - apart) / (4 * _STEP**2)
    return here, slope, curve
