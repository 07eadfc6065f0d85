"""All estimates of a survey from its plot values."""

from __future__ import annotations

from dataclasses import dataclass, replace

import geopandas as gpd
import pandas as pd
import polars as pl

from plotmap.model.plot_table import PlotValues
from plotmap.model.result_tables import COMPARTMENT_RESULTS, SPECIES_TOTAL_RESULTS
from plotmap.model.settings import Settings
from plotmap.model.survey import Survey
from plotmap.stand.classes import ClassTables, estimate_classes
from plotmap.stand.compartments import areas_of, estimate_compartments
from plotmap.stand.density import stand_density
from plotmap.stand.grid_errors import grid_errors
from plotmap.stand.heights import stem_heights
from plotmap.stand.limits import limits_of
from plotmap.stand.model_based import model_based
from plotmap.stand.samples import Samples, samples_of, with_fractions
from plotmap.stand.scopes import scopes_of
from plotmap.stand.structure import describe_structure
from plotmap.stand.sums import sum_classes, sum_species
from plotmap.stand.totals import total_strata, total_survey
from plotmap.stand.volumes import VolumeTables, estimate_volumes


@dataclass(frozen=True, slots=True)
class Estimates:
    """Everything estimated.

    Attributes
    ----------
    compartments : geopandas.GeoDataFrame
        Columns of `COMPARTMENT_RESULTS`, polygons.
    tables : ClassTables
        Classes and species.
    strata, survey_total : pandas.DataFrame
        Columns of `STRATUM_RESULTS` and `SURVEY_RESULTS`.
    grid_errors : polars.DataFrame
        Columns of `GRID_ERROR_RESULTS`.
    height_curves, stand_density : polars.DataFrame
        Columns of `HEIGHT_CURVE_RESULTS` and `STAND_DENSITY_RESULTS`.
    volumes : VolumeTables
        Volume, and the equations it came from.
    class_sums, species_sums, structure, model_based : polars.DataFrame
        Columns of `CLASS_SUM_RESULTS`, `SPECIES_SUM_RESULTS` and `STRUCTURE_RESULTS`.
    """

    compartments: gpd.GeoDataFrame
    tables: ClassTables
    strata: pd.DataFrame
    survey_total: pd.DataFrame
    grid_errors: pl.DataFrame
    height_curves: pl.DataFrame
    stand_density: pl.DataFrame
    volumes: VolumeTables
    class_sums: pl.DataFrame
    species_sums: pl.DataFrame
    structure: pl.DataFrame
    model_based: pl.DataFrame


def compartment_figures(survey: Survey, values: PlotValues) -> gpd.GeoDataFrame:
    """Estimate the compartments alone, as `estimate_stand` does it: for those who need no more.

    Parameters
    ----------
    survey : Survey
        Compartments and settings.
    values : PlotValues
        Plots that enter, and what stands on them.

    Returns
    -------
    geopandas.GeoDataFrame
        Columns of `COMPARTMENT_RESULTS` and the outlines.
    """
    found = estimate_compartments(survey, _with_fractions(survey, values))
    return found[[*COMPARTMENT_RESULTS.names, "geometry"]]


def estimate_stand(survey: Survey, values: PlotValues) -> Estimates:
    """Estimate compartments, classes, species, strata and the survey.

    Parameters
    ----------
    survey : Survey
        Compartments and settings.
    values : PlotValues
        Plots that enter, and what stands on them.

    Returns
    -------
    Estimates
        See the functions of this folder for the method of each.
    """
    settings, values = survey.settings, _with_fractions(survey, values)
    compartments = estimate_compartments(survey, values)
    samples = samples_of(compartments, values, settings)
    strata, total = total_strata(samples, settings), total_survey(samples, settings)
    heights = stem_heights(values.standing, settings)
    rule = settings.class_rule
    tables = estimate_classes(values, rule, limits_of(settings))
    scopes = scopes_of(compartments, values.units)
    species, species_sums = sum_species(tables.species_totals, values, compartments, scopes, settings)
    class_sums = sum_classes(tables.class_totals, compartments, settings)
    if samples.wider:
        class_sums, species_sums = _wider_sums(samples, settings)
    return Estimates(
        compartments=compartments[[*COMPARTMENT_RESULTS.names, "geometry"]],
        tables=replace(tables, species_totals=species.select(SPECIES_TOTAL_RESULTS.names)),
        strata=strata,
        survey_total=total,
        grid_errors=_grid_errors(values, compartments, samples, (strata, total)),
        class_sums=class_sums,
        species_sums=species_sums,
        structure=describe_structure(values, scopes, rule),
        model_based=model_based(compartments, settings),
        height_curves=heights.curves,
        stand_density=stand_density(heights, values.units, compartments, settings),
        volumes=estimate_volumes(heights, values.units, survey.species, compartments, settings),
    )


def _with_fractions(survey: Survey, values: PlotValues) -> PlotValues:
    """Return the values with sampling fractions where variances are to be corrected for a finite population."""
    if survey.settings.estimates.finite_population:
        return with_fractions(values, areas_of(survey))
    return values


def _wider_sums(samples: Samples, settings: Settings) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return classes and species of strata and survey over samples that are wider than compartments."""
    values = samples.plot_values
    tables = estimate_classes(values, settings.class_rule, limits_of(settings))
    scopes = scopes_of(samples.frame, values.units)
    _, species = sum_species(tables.species_totals, values, samples.frame, scopes, settings)
    return sum_classes(tables.class_totals, samples.frame, settings), species


def _grid_errors(
    values: PlotValues,
    compartments: gpd.GeoDataFrame,
    samples: Samples,
    totals: tuple[pd.DataFrame, pd.DataFrame],
) -> pl.DataFrame:
    """Return errors on the grid: of strata and survey about the means of samples, of compartments about their own."""
    own = grid_errors(values, compartments, *totals)
    if not samples.wider:
        return own
    whole = grid_errors(samples.plot_values, samples.frame, *totals)
    return pl.concat(
        [whole.filter(pl.col("scope") != "compartment"), own.filter(pl.col("scope") == "compartment")]
    )
