"""What passes to and from the comparison of two surveys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from plotmap.model.findings import Findings
from plotmap.model.plot_table import PlotValues
from plotmap.model.settings import Settings
from plotmap.model.survey import InputFile, Survey

if TYPE_CHECKING:
    import geopandas as gpd
    import polars as pl


@dataclass(frozen=True, slots=True)
class Occasion:
    """One survey with everything that a comparison needs of it.

    Attributes
    ----------
    survey : Survey
        As it was read, with the settings it was computed with.
    plot_values : PlotValues
        Its plots and stems.
    compartments : geopandas.GeoDataFrame
        Columns of `plotmap.model.result_tables.COMPARTMENT_RESULTS`, polygons.
    """

    survey: Survey
    plot_values: PlotValues
    compartments: gpd.GeoDataFrame


@dataclass(frozen=True, slots=True)
class Change:
    """What changed between two surveys, ready to be written.

    Attributes
    ----------
    settings : Settings
        Settings of the new survey, as both were computed where they could be brought together.
    titles : tuple of str
        Titles of the old and the new survey.
    crs : str
        CRS of the layers, that of the new survey.
    inputs : tuple of InputFile
        Files of both surveys; names begin with ``old/`` and ``new/``.
    compartment_change : geopandas.GeoDataFrame
        `COMPARTMENT_CHANGE_RESULTS`, polygons.
    plot_change : geopandas.GeoDataFrame
        `PLOT_CHANGE_RESULTS`, points; without geometry where there is no position.
    total_change, stem_change, growth_components, comparison : polars.DataFrame
        `TOTAL_CHANGE_RESULTS`, `STEM_CHANGE_RESULTS`, `COMPONENT_RESULTS`, `COMPARISON_RESULTS`.
    findings : Findings
        Of the comparison; those of the two surveys are in their own results.
    """

    settings: Settings
    titles: tuple[str, str]
    crs: str
    inputs: tuple[InputFile, ...]
    compartment_change: gpd.GeoDataFrame
    total_change: pl.DataFrame
    plot_change: gpd.GeoDataFrame
    stem_change: pl.DataFrame
    growth_components: pl.DataFrame
    comparison: pl.DataFrame
    findings: Findings
