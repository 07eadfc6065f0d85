"""Which rule is for which compartment, and what it says in words."""

from __future__ import annotations

import polars as pl

from plotmap.model.field_tables_thinning import MEASURES, PRESCRIPTIONS
from plotmap.model.thinning import Rule, rule_of

_NOT_SAID = {"rule", "compartment", "stratum", "source"}


def rules_by_compartment(prescriptions: pl.DataFrame, strata: dict[str, str]) -> dict[str, tuple[Rule, str]]:
    """Return the rule of each compartment that has one, and what the rule says.

    Parameters
    ----------
    prescriptions : polars.DataFrame
        Columns of `PRESCRIPTIONS`, without errors.
    strata : dict of str to str
        Stratum of each compartment.

    Returns
    -------
    dict of str to (Rule, str)
        A compartment's own rule goes before its stratum's.
    """
    rows = prescriptions.to_dicts()
    own = {row["compartment"]: row for row in rows if row["compartment"] is not None}
    of_stratum = {row["stratum"]: row for row in rows if row["stratum"] is not None}
    found = {name: own.get(name, of_stratum.get(stratum)) for name, stratum in strata.items()}
    return {name: (rule_of(row), said(row)) for name, row in found.items() if row is not None}


def said(row: dict[str, object]) -> str:
    """Return every part of a rule in words, also what it does not set.

    Parameters
    ----------
    row : dict of str to object
        Columns of `PRESCRIPTIONS`.
    """
    unused = {name for measure in MEASURES for name in (measure.trigger, measure.residual)}
    unused = {name for name in unused if row.get(name) is None}
    parts = []
    for column in PRESCRIPTIONS.columns:
        if column.name in _NOT_SAID | unused:
            continue
        value = row.get(column.name)
        shown = f"{value:g}" if isinstance(value, float) else str(value)
        unit = f" {column.unit}" if column.unit else ""
        parts.append(f"{column.title}: {'not set' if value is None else shown + unit}")
    return "; ".join(parts)
