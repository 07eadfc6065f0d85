"""All estimates of a survey from its plot values."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import pandas as pd
import polars as pl

from plotmap.model.plot_table import PlotValues
from plotmap.model.result_tables import COMPARTMENT_RESULTS
from plotmap.model.survey import Survey
from plotmap.stand.classes import ClassTables, estimate_classes
from plotmap.stand.compartments import estimate_compartments
from plotmap.stand.grid_errors import grid_errors
from plotmap.stand.totals import total_strata, total_survey


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
    """

    compartments: gpd.GeoDataFrame
    tables: ClassTables
    strata: pd.DataFrame
    survey_total: pd.DataFrame
    grid_errors: pl.DataFrame


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
    settings = survey.settings
    compartments = estimate_compartments(survey, values)
    strata, total = total_strata(compartments, settings), total_survey(compartments, settings)
    return Estimates(
        compartments[[*COMPARTMENT_RESULTS.names, "geometry"]],
        estimate_classes(values, settings.class_rule, settings.survey.confidence),
        strata,
        total,
        grid_errors(values, compartments, strata, total),
    )
