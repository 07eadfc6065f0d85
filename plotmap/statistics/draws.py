"""Random numbers that can be drawn again: the same seed gives the same, on every machine and with every release."""

from __future__ import annotations

import numpy as np

from plotmap.statistics.estimates import Floats

_UNUSED_BITS, _STEP = 11, 2.0**-53


def uniforms(seed: int, stream: tuple[int, ...], n: int) -> Floats:
    """Return the first numbers of one stream of a seed.

    Raw numbers of the generator PCG64 (O'Neill 2014), whose 53 highest bits become a number; numpy promises that raw
    numbers of a bit generator stay as they are from release to release (NEP 19), of its distributions it does not.

    Parameters
    ----------
    seed : int
        0 or more.
    stream : tuple of int
        Numbers of 0 or more that name the stream; streams of one seed are independent.
    n : int
        How many.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Even over 0 up to, but without, 1.

    Raises
    ------
    ValueError
        A number is negative.
    """
    raw = np.random.PCG64(np.random.SeedSequence(seed, spawn_key=stream)).random_raw(n)
    return np.asarray((np.asarray(raw, dtype=np.uint64) >> np.uint64(_UNUSED_BITS)) * _STEP, dtype=np.float64)
