"""The whole comparison of two surveys."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import polars as pl
import shapely

from plotmap.change.compartments import change_in_total, change_of_compartments
from plotmap.change.findings import change_findings
from plotmap.change.pairs import pair_plots
from plotmap.change.stems import components_of_growth, follow_stems, with_stems_by
from plotmap.model.change import Change, Occasion
from plotmap.model.result_tables_change import (
    COMPARTMENT_CHANGE_RESULTS,
    PLOT_CHANGE_RESULTS,
    STEM_CHANGE_RESULTS,
)


def compare_occasions(old: Occasion, new: Occasion, comparison: pl.DataFrame) -> Change:
    """Compute what changed between two surveys.

    Parameters
    ----------
    old, new : Occasion
        The two surveys, computed with settings that `plotmap.change.bring_together` gave.
    comparison : polars.DataFrame
        What it said of the settings, columns of `COMPARISON_RESULTS`.

    Returns
    -------
    Change
        See the functions of this folder for the method of each table.
    """
    settings = new.survey.settings
    limits = settings.compare
    pairs = with_stems_by(pair_plots(old, new, limits.pair_distance_m), old, new)
    compartments = change_of_compartments(old, new, pairs, limits.boundary_pct / 100.0)
    stems = follow_stems(pairs, old, new)
    plots = pairs.select(PLOT_CHANGE_RESULTS.names).to_pandas()
    places = pairs.select("x", "y").to_numpy().astype(float)
    points = np.full(len(places), None, dtype=object)
    points[np.isfinite(places).all(axis=1)] = shapely.points(places[np.isfinite(places).all(axis=1)])
    files = [
        replace(file, name=f"{side}/{file.name}")
        for side, occasion in (("old", old), ("new", new))
        for file in occasion.survey.inputs
    ]
    return Change(
        settings=settings,
        titles=(old.survey.settings.survey.title, settings.survey.title),
        crs=new.survey.crs,
        inputs=tuple(files),
        compartment_change=compartments[[*COMPARTMENT_CHANGE_RESULTS.names, "geometry"]],
        total_change=change_in_total(compartments, settings.survey.confidence),
        plot_change=gpd.GeoDataFrame(plots, geometry=points, crs=new.survey.crs),
        stem_change=stems.select(STEM_CHANGE_RESULTS.names),
        growth_components=components_of_growth(stems, pairs, compartments),
        comparison=comparison,
        findings=change_findings(compartments, pairs, stems, new, limits),
    )
