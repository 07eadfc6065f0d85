"""Which limits conflict where no plan keeps them all: each is given slack, and as little as possible is used."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp

from plotmap.optimise.model import Model
from plotmap.optimise.plan import Conflict
from plotmap.optimise.solver import Budget, solve


def conflicts_of(model: Model, budget: Budget) -> tuple[Conflict, ...]:
    """Say by how much limits would have to give way so that a plan exists.

    Required units, least and most amounts and even flow may give way; neighbours, openings and blocks may not. The
    sum of what gives way is made as small as it can be, each limit measured against its own size: elastic programming
    (Brown & Graves 1975; Chinneck 2008, Feasibility and Infeasibility in Optimization; both from memory).

    Parameters
    ----------
    model : Model
        Without a feasible solution.
    budget : Budget

    Returns
    -------
    tuple of Conflict
        In the order of the limits; empty if even so nothing was found in time.
    """
    rows = np.array([i for i, limit in enumerate(model.limits) if limit.gives], dtype=np.intp)
    if len(rows) == 0:
        return ()
    # A limit from below gets +slack, one from above −slack; a required unit has both sides, and only the lower gives.
    sign = np.where(np.isfinite(model.low[rows]), 1.0, -1.0)
    n_rows, width = model.matrix.shape
    slack = sp.csr_array((sign, (rows, np.arange(len(rows)))), shape=(n_rows, len(rows)))
    size = np.maximum(1.0, np.abs(np.where(sign > 0, model.low[rows], model.high[rows])))
    elastic = Model(
        model.columns,
        np.concatenate([np.zeros(width), -1.0 / size]),
        np.concatenate([model.upper, np.full(len(rows), np.inf)]),
        sp.csr_array(sp.hstack([model.matrix, slack], format="csr")),
        model.low,
        model.high,
        model.limits,
    )
    answer = solve(elastic, budget, gap=1e-3)
    if answer.x is None:
        return ()
    used = answer.x[width:]
    return tuple(
        Conflict(model.limits[row].words, model.limits[row].asked, float(short * model.limits[row].scale))
        for row, short in zip(rows, used, strict=True)
        if short > 1e-6  # noqa: PLR2004 - what the solver calls zero
    )
