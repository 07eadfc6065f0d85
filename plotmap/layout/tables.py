"""The tables of a layout beside the plots: numbers, compartments, and what it was made by."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from importlib.metadata import version

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl

from plotmap.layout.land import Floats, Land
from plotmap.layout.numbers import Numbers
from plotmap.layout.positions import Item
from plotmap.layout.variation import NOT_KNOWN, Variation
from plotmap.model.layout import Ground
from plotmap.model.result_tables_layout import (
    LAYOUT_DESIGN_RESULTS,
    PLANNED_COMPARTMENT_RESULTS,
    SAMPLE_SIZE_RESULTS,
)
from plotmap.model.survey import InputFile
from plotmap.statistics import stratified_error_pct
from plotmap.units import M2_PER_HA

ENOUGH, FEW, NONE, EXCLUDED = "enough", "few plots", "no plots", "excluded"
SURVEY, STRATUM, MEDIAN = "survey", "stratum", "median compartment"
OF_STRATA = "of its strata"
_Cells = dict[str, float | str | None]


def compartments_table(
    ground: Ground, land: Land, variation: Variation, numbers: Numbers, plots: gpd.GeoDataFrame
) -> gpd.GeoDataFrame:
    """Return every compartment with its net polygon, in the order of the layer.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns of `PLANNED_COMPARTMENT_RESULTS`. The error takes plots as a random sample of the compartment, with
        the variation within compartments where a pilot tells it.
    """
    n_main, n_reserve = (_counts(land, plots, role) for role in ("main", "reserve"))
    there = land.stratum >= 0
    density = np.where(there, (numbers.wanted / land.stratum_ha)[land.stratum], 0.0)
    within = np.where(there, variation.within_pct[land.stratum], np.nan)
    confidence = ground.settings.survey.confidence
    fitting = land.net_m2 / land.plot_m2
    errors = [_error(cv, n, whole, confidence) for cv, n, whole in zip(within, n_main, fitting, strict=True)]
    few = n_main < ground.settings.layout.enough_plots
    status = np.select([~there, n_main == 0, few], [EXCLUDED, NONE, FEW], ENOUGH)
    frame = pd.DataFrame(
        {
            "compartment": land.names,
            "name": land.labels,
            "stratum": ground.compartments["stratum"].astype(str).to_numpy(dtype=object),
            "area_ha": land.area_ha,
            "excluded_ha": land.excluded_ha,
            "n_wanted": density * land.area_ha,
            "n_planned": n_main.astype("int64"),
            "n_reserve": n_reserve.astype("int64"),
            "error_pct": errors,
            "status": status,
        }
    )
    return gpd.GeoDataFrame(frame[PLANNED_COMPARTMENT_RESULTS.names], geometry=land.net, crs=ground.crs)


def _counts(land: Land, plots: gpd.GeoDataFrame, role: str) -> Floats:
    """Return how many plots of a role each compartment has."""
    place = {name: row for row, name in enumerate(land.names)}
    rows = [place[name] for name in plots.loc[plots["role"] == role, "compartment"]]
    return np.bincount(np.array(rows, dtype=np.intp), minlength=len(land.names)).astype(float)


def _error(cv: float, n: float, whole: float, confidence: float) -> float:
    """Return the error of a random sample in %; NaN where it cannot be told."""
    if math.isnan(cv):
        return math.nan
    population = math.inf if math.isnan(whole) else max(whole, 1e-9)
    return stratified_error_pct([1.0], [cv], [math.floor(n + 1e-9)], confidence, population=population)


def sizes_table(
    ground: Ground, land: Land, variation: Variation, numbers: Numbers, compartments: gpd.GeoDataFrame
) -> pl.DataFrame:
    """Return the numbers of the survey, of each stratum, and of the compartment of median net area.

    Returns
    -------
    polars.DataFrame
        Columns of `SAMPLE_SIZE_RESULTS`. Of an even number of compartments, the smaller of the two in the middle.
    """
    n_planned = land.by_stratum(compartments["n_planned"].to_numpy(dtype=float))
    n_reserve = land.by_stratum(compartments["n_reserve"].to_numpy(dtype=float))
    rows = [_survey_row(ground, land, variation, numbers, n_planned)]
    rows[0]["n_reserve"] = float(n_reserve.sum())
    confidence = ground.settings.survey.confidence
    for row, name in enumerate(land.strata):
        cv, whole = float(variation.cv_pct[row]), float(land.fitting[row])
        cells = _cells(numbers, n_planned, row, 1.0)
        own: _Cells = {
            "scope": STRATUM,
            "name": name,
            "area_ha": float(land.stratum_ha[row]),
            "n_fitting": whole,
            "cv_pct": cv,
            "cv_from": variation.cv_from[row],
            "n_reserve": float(n_reserve[row]),
        }
        rows.append(own | cells | _errors(cv, cells, whole, confidence))
    rows.append(_median_row(ground, land, variation, numbers, compartments))
    return _as_table([row | _densities(row) for row in rows])


def _survey_row(
    ground: Ground, land: Land, variation: Variation, numbers: Numbers, n_planned: Floats
) -> _Cells:
    """Return the row of the whole survey."""
    shares = land.stratum_ha / land.stratum_ha.sum()
    confidence = ground.settings.survey.confidence
    told = set(variation.cv_from)
    cv_from = NOT_KNOWN if not variation.known else told.pop() if len(told) == 1 else OF_STRATA
    cells: _Cells = {
        "scope": SURVEY,
        "area_ha": float(land.stratum_ha.sum()),
        "n_fitting": float(land.fitting.sum()),
        "cv_pct": math.sqrt(float((shares * variation.of_survey_pct**2).sum())),
        "cv_from": cv_from,
        "target_error_pct": ground.settings.estimates.target_error_pct,
        "n_for_target": float(numbers.for_target.sum()),
        "n_from_crew_days": float(numbers.from_days.sum()),
        "n_wanted": float(numbers.wanted.sum()),
        "n_planned": float(n_planned.sum()),
    }
    for name, plots in (("error_from_crew_days_pct", numbers.from_days), ("error_pct", n_planned)):
        if variation.known and np.isfinite(plots).all():
            cells[name] = stratified_error_pct(
                shares, variation.of_survey_pct, plots, confidence, population=land.fitting
            )
    return cells


def _median_row(
    ground: Ground, land: Land, variation: Variation, numbers: Numbers, compartments: gpd.GeoDataFrame
) -> _Cells:
    """Return the row of the compartment of median net area."""
    there = np.flatnonzero(land.stratum >= 0)
    at = int(there[np.argsort(land.area_ha[there], kind="stable")][(len(there) - 1) // 2])
    row = int(land.stratum[at])
    cv, whole = float(variation.within_pct[row]), float(land.net_m2[at]) / land.plot_m2
    share = float(land.area_ha[at] / land.stratum_ha[row])
    cells = _cells(numbers, np.zeros(len(land.strata)), row, share)
    cells["n_planned"] = float(compartments["n_planned"].iloc[at])
    own: _Cells = {
        "scope": MEDIAN,
        "name": str(land.names[at]),
        "area_ha": float(land.area_ha[at]),
        "n_fitting": whole,
        "cv_pct": cv,
        "cv_from": variation.within_from[row],
        "n_reserve": float(compartments["n_reserve"].iloc[at]),
    }
    return own | cells | _errors(cv, cells, whole, ground.settings.survey.confidence)


def _cells(numbers: Numbers, n_planned: Floats, row: int, share: float) -> _Cells:
    """Return the numbers of a share of a stratum."""
    return {
        "n_for_target": float(numbers.for_target[row]) * share,
        "n_from_crew_days": float(numbers.from_days[row]) * share,
        "n_wanted": float(numbers.wanted[row]) * share,
        "n_planned": float(n_planned[row]) * share,
    }


def _errors(cv: float, cells: Mapping[str, object], whole: float, confidence: float) -> _Cells:
    """Return the errors of the plots of the crew-days, and of those planned."""
    found: _Cells = {}
    for name, column in (("error_from_crew_days_pct", "n_from_crew_days"), ("error_pct", "n_planned")):
        n = cells[column]
        if isinstance(n, float) and math.isfinite(n):
            found[name] = _error(cv, n, whole, confidence)
    return found


def _densities(row: Mapping[str, object]) -> _Cells:
    """Return density and spacing of the plots planned."""
    n, area = row["n_planned"], row["area_ha"]
    if not isinstance(n, float) or not isinstance(area, float) or not n:
        return {"density_per_ha": 0.0, "spacing_m": None}
    return {"density_per_ha": n / area, "spacing_m": math.sqrt(area * M2_PER_HA / n)}


def _as_table(rows: list[_Cells]) -> pl.DataFrame:
    """Return rows as the declared table; what is not a finite number is missing."""
    texts = {"scope", "name", "cv_from"}
    columns = []
    for name in SAMPLE_SIZE_RESULTS.names:
        values = [row.get(name) for row in rows]
        if name in texts:
            columns.append(pl.Series(name, values, dtype=pl.String))
            continue
        finite = [value if isinstance(value, float) and math.isfinite(value) else None for value in values]
        kind = pl.Int64 if name in {"n_planned", "n_reserve"} else pl.Float64
        columns.append(pl.Series(name, finite, dtype=pl.Float64).cast(kind))
    return pl.DataFrame(columns)


def design_table(
    ground: Ground, numbers: Numbers, drawn: tuple[Item, ...], inputs: tuple[InputFile, ...]
) -> pl.DataFrame:
    """Return what the layout was made by, so that it can be made again: columns `LAYOUT_DESIGN_RESULTS`."""
    rules = ground.settings.layout
    items: list[Item] = [
        ("plotmap_version", version("plotmap")),
        ("method", rules.method.value),
        ("seed", str(rules.seed)),
        ("number_by", numbers.basis),
        ("crs", ground.crs),
        *drawn,
        *((f"[layout] {key}", json.dumps(value)) for key, value in rules.model_dump(mode="json").items()),
        *((f"sha256 of {file.name}", file.sha256) for file in inputs),
    ]
    return pl.DataFrame(items, schema=dict.fromkeys(LAYOUT_DESIGN_RESULTS.names, pl.String), orient="row")
