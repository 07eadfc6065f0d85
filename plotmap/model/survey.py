"""What passes between the stages: the survey as it was read, and the stand as it was computed.

The line between the two kinds of frames is drawn here: tables of stems are polars frames, plots and
compartments are (Geo)pandas frames.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.model.findings import Findings
from plotmap.model.settings import Settings

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import pandas as pd
    import polars as pl
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class InputFile:
    """One file that was read, so that a result can be traced to it.

    Attributes
    ----------
    name : str
        Path relative to the survey folder.
    size_bytes : int
        Size of the file.
    sha256 : str
        Hash of its bytes, hexadecimal.
    """

    name: str
    size_bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class MapLayer:
    """One layer of the user's own for the map: roads, streams.

    Attributes
    ----------
    name : str
        What it is called.
    shapes : numpy.ndarray of shapely geometry, shape (n,)
        Lines, polygons and points near the compartments, in the CRS of the survey; none missing or empty.
    """

    name: str
    shapes: NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Survey:
    """A survey folder as it was read: typed tables, and everything that was odd about them.

    Attributes
    ----------
    folder : Path
        Where it was read from.
    settings : Settings
        Its ``survey.toml``.
    crs : str
        CRS of compartments and plots, as WKT or authority code; empty where it could not be settled.
    compartments : geopandas.GeoDataFrame
        Columns of `plotmap.model.field_tables.COMPARTMENTS`, ``area_geodesic_ha`` (ha), ``source_row``
        and polygons in `crs`. ``name`` and ``stratum`` are filled.
    plots : geopandas.GeoDataFrame
        Columns of `PLOTS`, ``source_row`` and points in `crs` (missing where there is no position), and
        ``located_in`` (compartment the position lies in, by the stated rule; missing where in none).
    trees, tallies, instruments, species : polars.DataFrame
        Columns of `TREES`, `TALLIES`, `INSTRUMENTS`, `SPECIES` and ``source_row``; caliper readings are
        ``d1_cm`` … ``dn_cm``. Empty where the file is not there.
    check_trees : polars.DataFrame
        Stems measured again on checked plots: columns of `CHECK_TREES` and ``source_row``, as in `trees`.
    prescriptions : polars.DataFrame
        Rules of thinning: columns of `PRESCRIPTIONS` and ``source_row``; empty where the file is not there.
    sources : mapping of str to str
        File (and sheet or layer) of each table that was found.
    rows_read, rows_blank : mapping of str to int
        Rows below the heading, and the blank ones among them, of each table that was found.
    rows_no_data : mapping of str to mapping of str to int
        Rows that hold totals or titles, of each table that was found: how many for each reason.
    inputs : tuple of InputFile
        Every file that was read.
    findings : Findings
        Of reading and of all checks.
    map_layers : tuple of MapLayer
        Layers that ``[map] layers`` names, those that can be used.
    """

    folder: Path
    settings: Settings
    crs: str
    compartments: gpd.GeoDataFrame
    plots: gpd.GeoDataFrame
    trees: pl.DataFrame
    tallies: pl.DataFrame
    instruments: pl.DataFrame
    species: pl.DataFrame
    check_trees: pl.DataFrame
    prescriptions: pl.DataFrame
    sources: Mapping[str, str]
    rows_read: Mapping[str, int]
    rows_blank: Mapping[str, int]
    rows_no_data: Mapping[str, Mapping[str, int]]
    inputs: tuple[InputFile, ...]
    findings: Findings
    map_layers: tuple[MapLayer, ...] = ()


@dataclass(frozen=True, slots=True)
class Stand:
    """Everything that was computed, ready to be written. Columns are those of the result tables.

    Attributes
    ----------
    settings : Settings
        Settings of the survey.
    crs : str
        CRS of both layers.
    inputs : tuple of InputFile
        Files the results were made from.
    compartments : geopandas.GeoDataFrame
        `COMPARTMENT_RESULTS`, polygons.
    plots : geopandas.GeoDataFrame
        `PLOT_RESULTS`, points; without geometry where there is no position.
    trees, tallied, classes, class_totals, species_totals : polars.DataFrame
        `TREE_RESULTS`, `TALLIED_RESULTS`, `CLASS_RESULTS`, `CLASS_TOTAL_RESULTS`, `SPECIES_TOTAL_RESULTS`.
        Rows of the last three are sorted by compartment, species and size.
    instrument_log, section_effect : polars.DataFrame
        `INSTRUMENT_LOG_RESULTS`, `SECTION_EFFECT_RESULTS`; empty where there is nothing to tell.
    strata, survey_total : pandas.DataFrame
        `STRATUM_RESULTS`, `SURVEY_RESULTS` (one row).
    grid_errors, error_parts, model_based : polars.DataFrame
        `GRID_ERROR_RESULTS`, `ERROR_PART_RESULTS`, `MODEL_BASED_RESULTS`; the last without rows unless the
        settings ask for it.
    height_curves, stand_density : polars.DataFrame
        `HEIGHT_CURVE_RESULTS` (without rows where no height was measured) and `STAND_DENSITY_RESULTS`.
    volumes, volume_equations : polars.DataFrame
        `VOLUME_RESULTS` and `VOLUME_EQUATION_RESULTS`; without rows where no volume is asked for.
    class_sums, species_sums, structure : polars.DataFrame
        `CLASS_SUM_RESULTS`, `SPECIES_SUM_RESULTS`, `STRUCTURE_RESULTS`.
    check_differences, check_summary, band_confusion : polars.DataFrame
        `CHECK_DIFFERENCE_RESULTS`, `CHECK_SUMMARY_RESULTS`, `BAND_CONFUSION_RESULTS`; without rows where no
        plot was checked.
    findings : Findings
        All findings, none of them an error.
    ledger : polars.DataFrame
        `LEDGER_RESULTS`.
    map_layers : tuple of MapLayer
        Layers of the user's own that the map shows.
    """

    settings: Settings
    crs: str
    inputs: tuple[InputFile, ...]
    compartments: gpd.GeoDataFrame
    plots: gpd.GeoDataFrame
    trees: pl.DataFrame
    tallied: pl.DataFrame
    instrument_log: pl.DataFrame
    section_effect: pl.DataFrame
    classes: pl.DataFrame
    class_totals: pl.DataFrame
    species_totals: pl.DataFrame
    strata: pd.DataFrame
    survey_total: pd.DataFrame
    grid_errors: pl.DataFrame
    error_parts: pl.DataFrame
    model_based: pl.DataFrame
    height_curves: pl.DataFrame
    stand_density: pl.DataFrame
    volumes: pl.DataFrame
    volume_equations: pl.DataFrame
    class_sums: pl.DataFrame
    species_sums: pl.DataFrame
    structure: pl.DataFrame
    check_differences: pl.DataFrame
    check_summary: pl.DataFrame
    band_confusion: pl.DataFrame
    findings: Findings
    ledger: pl.DataFrame
    map_layers: tuple[MapLayer, ...] = ()
