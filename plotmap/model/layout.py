"""What passes between the stages before the field: the ground as it was read, and the layout as it was computed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.model.findings import Findings
from plotmap.model.plot_table import PlotValues
from plotmap.model.settings import Settings
from plotmap.model.survey import InputFile, Survey

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import polars as pl
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Ground:
    """A survey folder before the field: settings and compartments; plots and stems are not looked at.

    Attributes
    ----------
    folder : Path
        Where it was read from.
    settings : Settings
        Its ``survey.toml``.
    crs : str
        CRS of the survey, as WKT or authority code; empty where it could not be settled.
    compartments : geopandas.GeoDataFrame
        As `plotmap.model.survey.Survey.compartments`.
    excluded : numpy.ndarray of shapely geometry, shape (n,)
        Polygons in `crs` on which no plot may lie, of ``[layout] exclude``.
    inputs : tuple of InputFile
        Every file that was read.
    findings : Findings
        Of the compartments.
    """

    folder: Path
    settings: Settings
    crs: str
    compartments: gpd.GeoDataFrame
    excluded: NDArray[np.object_]
    inputs: tuple[InputFile, ...]
    findings: Findings


@dataclass(frozen=True, slots=True)
class Pilot:
    """An earlier survey that says how much plots differ.

    Attributes
    ----------
    survey : Survey
        Without errors.
    values : PlotValues
        Of its plots.
    """

    survey: Survey
    values: PlotValues


@dataclass(frozen=True, slots=True)
class PlotLayout:
    """Plots laid out before the field. Columns are those of `plotmap.model.result_tables_layout`.

    Attributes
    ----------
    settings : Settings
        Settings of the survey.
    crs : str
        CRS of both layers.
    inputs : tuple of InputFile
        Files the layout was made from, those of the pilot too.
    planned_plots : geopandas.GeoDataFrame
        `PLANNED_PLOT_RESULTS`, points.
    planned_compartments : geopandas.GeoDataFrame
        `PLANNED_COMPARTMENT_RESULTS`, the net polygons; None where nothing is left.
    outlines : numpy.ndarray of shapely geometry, shape (n_compartments,)
        Whole polygons of the rows of `planned_compartments`, with what is excluded: edges are judged by these.
    sample_sizes, walks, layout_design : polars.DataFrame
        `SAMPLE_SIZE_RESULTS`, `WALK_RESULTS` (without rows where no plots per day are stated),
        `LAYOUT_DESIGN_RESULTS`.
    findings : Findings
        Of the compartments.
    """

    settings: Settings
    crs: str
    inputs: tuple[InputFile, ...]
    planned_plots: gpd.GeoDataFrame
    planned_compartments: gpd.GeoDataFrame
    outlines: NDArray[np.object_]
    sample_sizes: pl.DataFrame
    walks: pl.DataFrame
    layout_design: pl.DataFrame
    findings: Findings
