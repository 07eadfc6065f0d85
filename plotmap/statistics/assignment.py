"""Pairing two sets one to one at the least cost, each pair being optional."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array
from scipy.sparse.csgraph import min_weight_full_bipartite_matching

from plotmap.statistics.estimates import Indexes

UNPAIRED_COST = 1.0
"""Cost of each member that stays without a partner, where a pair costs at most 1."""


def least_cost_pairs(first: npt.ArrayLike, second: npt.ArrayLike, cost: npt.ArrayLike) -> Indexes:
    """Choose among possible pairs so that costs are least, no member being in two pairs.

    The costs of the chosen pairs and `UNPAIRED_COST` for every member that is left are least in all: two
    members are paired rather than left (at most 1 against 2), and a chain of pairs is shifted along only
    where that is cheaper than leaving its ends. It is the linear assignment problem with a stand-in of cost
    2 for each member of the first set (Kuhn 1955, Naval Research Logistics Quarterly 2: 83-97), solved on
    the possible pairs alone by the shortest augmenting paths of Jonker and Volgenant 1987 (Computing 38:
    325-340), as scipy has it.

    Parameters
    ----------
    first, second : array_like of int, shape (k,)
        Members of the two sets that each possible pair joins; no pair comes twice.
    cost : array_like of float, shape (k,)
        Cost of each pair, 0 to 1.

    Returns
    -------
    numpy.ndarray of int
        Places of the chosen pairs among those given, rising. Where two choices cost the same, the
        numbering of the members decides, not the order of the pairs.

    Raises
    ------
    ValueError
        Lengths differ, or a cost is NaN or not from 0 to 1.
    """
    left, right = np.asarray(first, dtype=np.int64), np.asarray(second, dtype=np.int64)
    costs = np.asarray(cost, dtype=float)
    if left.ndim != 1 or not left.shape == right.shape == costs.shape:
        raise ValueError("first, second and cost must be one-dimensional and of one length")
    if not ((costs >= 0) & (costs <= 1)).all():
        raise ValueError("every cost must be from 0 to 1")
    if not costs.size:
        return np.empty(0, dtype=np.intp)
    rows, columns = (np.unique(members, return_inverse=True)[1] for members in (left, right))
    n_rows, n_columns = int(rows.max()) + 1, int(columns.max()) + 1
    stand_in = np.arange(n_rows)
    # One is added to every cost, which changes no choice: explicit zeros would count as no pair.
    weights = 1.0 + np.concatenate([costs, np.full(n_rows, 2.0 * UNPAIRED_COST)])
    places = (np.concatenate([rows, stand_in]), np.concatenate([columns, n_columns + stand_in]))
    graph = coo_array((weights, places), shape=(n_rows, n_columns + n_rows)).tocsr()
    _, partner = min_weight_full_bipartite_matching(graph)
    return np.flatnonzero(np.asarray(partner)[rows] == columns)
