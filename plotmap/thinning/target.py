"""The target distribution: stems that fall by q from class to class, with a given basal area."""

from __future__ import annotations

import numpy as np

from plotmap.statistics.estimates import Floats
from plotmap.units import M2_PER_CM2


def target_stems(
    middle_cm: Floats, width_cm: Floats, basal_area_m2_per_ha: float, q: float, q_width_cm: float
) -> Floats:
    """Return the stems per hectare of each class of the target.

    Stems fall by q over each `q_width_cm` of diameter, N = k exp(-a d) with q = exp(a w) (de Liocourt 1898, Meyer
    1952, from memory), and add up to the basal area with every stem at the middle of its class. Where the classes
    have another width w', the ratio from one to the next is q^(w' / w).

    Parameters
    ----------
    middle_cm, width_cm : numpy.ndarray of float, shape (n,)
        Middles and widths of the classes from the smallest to the largest diameter of the target.
    basal_area_m2_per_ha : float
        Basal area of the target.
    q, q_width_cm : float
        Ratio, and the class width it belongs to.

    Returns
    -------
    numpy.ndarray of float, shape (n,)
        Empty where there are no classes.
    """
    if not len(middle_cm):
        return np.zeros(0)
    shape = width_cm * q ** ((middle_cm.max() - middle_cm) / q_width_cm)
    return np.asarray(basal_area_m2_per_ha * shape / (shape * middle_cm**2 * M2_PER_CM2).sum())
