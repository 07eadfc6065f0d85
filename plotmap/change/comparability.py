"""Whether two surveys measured the same thing, and with which settings both can be computed."""

from __future__ import annotations

from collections.abc import Sequence

import polars as pl

from plotmap.errors import ComparisonError
from plotmap.model.result_tables_change import BROUGHT, COMPARISON_RESULTS, DIFFERS, SAME
from plotmap.model.settings import Settings

_FROM_NEW = {"section": "mean of several readings", "bark": "bark", "count": "stems counted"}
"""Settings of stems by which the old survey is computed as the new one was."""
_LABELLED = {
    "survey": {"areas": "areas"},
    "plots": {
        "design": "plot design",
        "radius_m": "plot radius, m",
        "area_m2": "plot area, m²",
        "nests": "rings",
        "baf_m2_per_ha": "basal area factor, m²/ha",
        "slope": "slope rule",
        "edge": "edge rule",
    },
    "stems": {"rounding": "rounding"},
    "classes": {
        "width_cm": "class width, cm",
        "edges_cm": "class edges, cm",
        "on": "classes on",
        "edge": "edge",
    },
}


def bring_together(old: Settings, new: Settings) -> tuple[Settings, Settings, pl.DataFrame]:
    """Return settings with which two surveys can be compared, and what was done to them.

    The smallest diameter is the larger of the two in both; section mean, bark and the stems counted are the
    new survey's in both. Other differences stay and are told.

    Parameters
    ----------
    old, new : Settings
        Of the two surveys.

    Returns
    -------
    old, new : Settings
        To compute the surveys with.
    comparison : polars.DataFrame
        Columns of `COMPARISON_RESULTS`.

    Raises
    ------
    ComparisonError
        Breast heights differ: diameters at different heights on the stem are different quantities.
    """
    heights = old.stems.breast_height_m, new.stems.breast_height_m
    if heights[0] != heights[1]:
        raise ComparisonError(
            f"[stems] breast_height_m is {heights[0]:g} m in the old survey and {heights[1]:g} m in the new one: "
            "diameters at different heights cannot be compared. Compare surveys with one breast height, or mend "
            "survey.toml where the setting is wrong."
        )
    smallest = max(old.stems.min_dbh_cm, new.stems.min_dbh_cm)
    rows = [_row("breast height, m", heights[0], heights[1], heights[1])]
    rows.append(_row("smallest diameter, cm", old.stems.min_dbh_cm, new.stems.min_dbh_cm, smallest))
    shared = {name: getattr(new.stems, name) for name in _FROM_NEW}
    rows += [
        _row(item, getattr(old.stems, name), shared[name], shared[name]) for name, item in _FROM_NEW.items()
    ]
    rows.append(_row("confidence", old.survey.confidence, new.survey.confidence, new.survey.confidence))
    for section, items in _LABELLED.items():
        rows += [
            _row(item, getattr(getattr(old, section), name), getattr(getattr(new, section), name))
            for name, item in items.items()
        ]
    common = shared | {"min_dbh_cm": smallest}
    return _with_stems(old, common), _with_stems(new, common), _frame(rows)


def _with_stems(settings: Settings, values: dict[str, object]) -> Settings:
    """Return settings with other values in the section of the stems."""
    return settings.model_copy(update={"stems": settings.stems.model_copy(update=values)})


def _row(item: str, old: object, new: object, used: object = None) -> tuple[str | None, ...]:
    """Return one row of the comparison; `used` is None where a difference is left as it is."""
    verdict = SAME if old == new else BROUGHT if used is not None else DIFFERS
    value = new if verdict == SAME else used
    return item, _words(old), _words(new), verdict, _words(value)


def _words(value: object) -> str | None:
    """Return a setting as it is written; missing where it is not set."""
    if value is None or value == ():
        return None
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, tuple):
        return ", ".join(str(_words(part)) for part in value)
    return str(value)


def _frame(rows: Sequence[tuple[str | None, ...]]) -> pl.DataFrame:
    """Return the rows as the declared table."""
    return pl.DataFrame(rows, schema=dict.fromkeys(COMPARISON_RESULTS.names, pl.String), orient="row")
