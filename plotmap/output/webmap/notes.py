"""What is known of places beside their figures: findings, and the days of measurement."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from plotmap.model.field_tables import EMPTY, MEASURED
from plotmap.model.finding_rules import RULES
from plotmap.output.webmap.figures import text_cells

if TYPE_CHECKING:
    from plotmap.model.survey import Stand

_CREW_COLUMNS = ("crew", "check_crew")


def dates(stand: Stand) -> dict[str, Any]:
    """Return when compartments and the survey were measured.

    Parameters
    ----------
    stand : Stand
        Plots that were measured or visited and found empty count, with or without a position.

    Returns
    -------
    dict
        ``words`` (days, ISO 8601, rising), and as numbers of these, −1 where no plot has a day, ``first`` and
        ``last`` of each compartment, ``survey_first`` and ``survey_last``.
    """
    plots = pd.DataFrame({name: text_cells(stand.plots[name]) for name in ("compartment", "state", "date")})
    plots = plots[plots["state"].isin((MEASURED, EMPTY)) & plots["date"].notna()]
    words = sorted(plots["date"].unique())
    number = pd.Series(range(len(words)), index=words, dtype="int64")
    days = plots["date"].map(number)
    spans = days.groupby(plots["compartment"]).agg(["min", "max"]).reindex(stand.compartments["compartment"])
    spans = spans.fillna(-1).astype("int64")
    return {
        "words": words,
        "first": spans["min"].tolist(),
        "last": spans["max"].tolist(),
        "survey_first": 0 if words else -1,
        "survey_last": len(words) - 1,
    }


def placed_findings(stand: Stand, placed_plots: pd.Series, placed_compartments: pd.Series) -> dict[str, Any]:
    """Return the findings of plots and compartments that are on the map.

    No crew is named: a message or hint that names one gives way to the title or the hint of its rule.

    Parameters
    ----------
    stand : Stand
        Its findings; names of crews come from its plots and check measurements.
    placed_plots : pandas.Series of str
        Plots in the order of the map.
    placed_compartments : pandas.Series of str
        Compartments in the order of the map, missing where they have no outline.

    Returns
    -------
    dict
        ``codes``, ``titles``, ``severities`` (each once), and one entry a finding in ``code`` (number of the
        code), ``plot``, ``compartment`` (row on the map, −1 where not of one), ``message`` and ``hint``
        (None: the title of the code, no hint); ``without_place``: how many findings are not on the map.
    """
    frame = stand.findings.frame.to_pandas()
    plot = _first(placed_plots).get_indexer(pd.Index(frame["plot"]))
    compartment = _first(placed_compartments).get_indexer(pd.Index(frame["compartment"]))
    plot[frame["plot"].isna()] = -1
    compartment[frame["compartment"].isna()] = -1
    there = (plot >= 0) | (compartment >= 0)
    shown = frame[there]
    code, codes = pd.factorize(shown["code"])
    crews = crews_of(stand)
    hints = [RULES[name].hint for name in shown["code"]]
    return {
        "codes": list(codes),
        "titles": [RULES[name].title for name in codes],
        "severities": [RULES[name].severity.value for name in codes],
        "code": code.tolist(),
        "plot": plot[there].tolist(),
        "compartment": np.where(plot[there] >= 0, -1, compartment[there]).tolist(),
        "message": [None if names_any(text, crews) else text for text in shown["message"]],
        "hint": [
            rule if not isinstance(own, str) or names_any(own, crews) else own
            for own, rule in zip(shown["hint"], hints, strict=True)
        ],
        "without_place": int((~there).sum()),
    }


def _first(names: pd.Series) -> pd.Index[Any]:
    """Return names to look up: those given twice, or missing, are found by nothing but their first place."""
    kept = pd.Series(names).reset_index(drop=True)
    marks = pd.Series([object() for _ in range(len(kept))], dtype=object)
    found: pd.Index[Any] = pd.Index(kept.astype(object).where(kept.notna() & ~kept.duplicated(), marks))
    return found


def crews_of(stand: Stand) -> re.Pattern[str] | None:
    """Return what finds the name of any crew of a stand in a text; None where none is known."""
    names: set[str] = set()
    for frame in (stand.plots, stand.check_differences, stand.band_confusion):
        for column in _CREW_COLUMNS:
            if column in frame.columns:
                names |= {str(name).strip() for name in text_cells(frame[column]) if name is not None}
    known = sorted(names - {""}, key=lambda name: (-len(name), name))
    return re.compile("|".join(rf"(?<!\w){re.escape(name)}(?!\w)" for name in known)) if known else None


def names_any(text: str, crews: re.Pattern[str] | None) -> bool:
    """Say whether a text names a crew."""
    return crews is not None and crews.search(text) is not None
