"""The survey's own grid for the page: easting and northing from longitude and latitude, as polynomials."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.polynomial import chebyshev
from pyproj import Transformer

from plotmap.output.webmap.positions import axes_of

if TYPE_CHECKING:
    import geopandas as gpd
    from numpy.typing import NDArray

_WGS84 = 4326
_AROUND = 1.0
"""The fit reaches this many extents of the survey beyond each of its sides."""
_LEAST_DEGREES = 0.02
"""Half the extent of the fit at least: some 2 km."""
_DEGREES = range(2, 9)
"""Degrees of the polynomials tried, the lowest that is good enough taken."""
_GOOD_M = 0.005
_FITTED, _MEASURED = 25, 41
"""Points along each side that are fitted, and those in other places that the error is measured at."""
_DECIMALS = 4


def grid(*layers: gpd.GeoDataFrame) -> dict[str, Any] | None:
    """Return polynomials that turn longitude and latitude into the CRS of the survey.

    Sums of products of Chebyshev polynomials T_i(u) · T_j(v), i + j ≤ degree, in longitude u and latitude v scaled
    to −1 … 1 over the extent, fitted by least squares to what PROJ gives (Boyd 2001, Chebyshev and Fourier Spectral
    Methods, ch. 2: smooth functions are met to an error that falls by a factor with each degree).

    Parameters
    ----------
    *layers : geopandas.GeoDataFrame
        Compartments and plots in one CRS; missing geometry is passed over.

    Returns
    -------
    dict or None
        ``crs``, ``unit``, ``x_name``, ``y_name``; ``lon``, ``lat`` (middle of the extent, degrees), ``half_lon``,
        ``half_lat`` (half of it); ``degree``; ``x``, ``y`` (coefficients, i before j, in the unit of the CRS);
        ``metres`` (length of the unit) and ``error_m``, the largest error found at points between those fitted,
        in m, rounded up. None where nothing has a place or the CRS is in degrees.
    """
    crs = layers[0].crs
    bounds = np.array([layer.total_bounds for layer in layers if len(layer) and layer.crs == crs])
    if crs is None or not crs.is_projected or not bounds.size or not np.isfinite(bounds).any():
        return None
    extent = np.concatenate([np.nanmin(bounds[:, :2], axis=0), np.nanmax(bounds[:, 2:], axis=0)])
    back = Transformer.from_crs(crs, _WGS84, always_xy=True)
    west, south, east, north = back.transform_bounds(*extent)
    middle = np.round([(west + east) / 2, (south + north) / 2], 6)
    half = np.array([east - west, north - south]) * (0.5 + _AROUND)
    half = np.maximum(half, _LEAST_DEGREES).round(6)
    forth = Transformer.from_crs(_WGS84, crs, always_xy=True)
    metres = crs.axis_info[0].unit_conversion_factor
    found = _fit(forth, middle, half, metres)
    if found is None:
        return None
    degree, x, y, error_m = found
    return {
        **axes_of(crs),
        "lon": float(middle[0]),
        "lat": float(middle[1]),
        "half_lon": float(half[0]),
        "half_lat": float(half[1]),
        "degree": degree,
        "x": x.tolist(),
        "y": y.tolist(),
        "metres": metres,
        "error_m": error_m,
    }


def _fit(
    forth: Transformer, middle: NDArray[np.float64], half: NDArray[np.float64], metres: float
) -> tuple[int, NDArray[np.float64], NDArray[np.float64], float] | None:
    """Return degree, coefficients of easting and northing, and the error in m; None outside of the projection."""
    nodes = np.cos(np.pi * (np.arange(_FITTED) + 0.5) / _FITTED)
    fitted = np.array(np.meshgrid(nodes, nodes)).reshape(2, -1)
    between = np.array(np.meshgrid(*[np.linspace(-1, 1, _MEASURED)] * 2)).reshape(2, -1)
    wanted, checked = (
        np.array(forth.transform(*(middle[:, None] + half[:, None] * uv))) for uv in (fitted, between)
    )
    if not (np.isfinite(wanted).all() and np.isfinite(checked).all()):
        return None
    found = None
    for degree in _DEGREES:
        coefficients = np.asarray(
            np.linalg.lstsq(_terms(fitted, degree), wanted.T, rcond=None)[0], dtype=np.float64
        )
        coefficients = coefficients.round(_DECIMALS)
        off = _terms(between, degree) @ coefficients - checked.T
        error_m = math.ceil(float(np.hypot(off[:, 0], off[:, 1]).max()) * metres * 1000) / 1000
        if found is None or error_m < found[3]:
            found = degree, coefficients[:, 0], coefficients[:, 1], error_m
        if error_m <= _GOOD_M:
            break
    return found


def _terms(uv: NDArray[np.float64], degree: int) -> NDArray[np.float64]:
    """Return the products of Chebyshev polynomials at points (u, v), one column a term with i + j ≤ degree."""
    every = chebyshev.chebvander2d(uv[0], uv[1], [degree, degree]).reshape(-1, degree + 1, degree + 1)
    kept = [every[:, i, j] for i in range(degree + 1) for j in range(degree + 1 - i)]
    return np.column_stack(kept)
