"""Where measured stems stand: from azimuth and distance to coordinates, and which compartment that is."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from pyproj import CRS

from plotmap.model.field_tables import SOURCE_ROW
from plotmap.model.findings import Findings, findings_of
from plotmap.model.settings import Design, EdgeRule, NorthOf, PlotsSection
from plotmap.model.survey import Survey
from plotmap.plots.expansions import seen_cm
from plotmap.spatial.crs import true_north_deg
from plotmap.spatial.locate import locate

_TOLERANCE_M = 0.05
"""Distances are read to the decimetre at best; a stem this much too far out is no finding."""
_CM_PER_M = 100.0
LIMIT_M_PER_CM = 0.5
"""Limiting distance in m of a stem of 1 cm with a basal area factor of 1 m²/ha: 50 stem diameters."""


def with_positions(stems: pl.DataFrame, survey: Survey) -> pl.DataFrame:
    """Add ``easting`` and ``northing`` of stems whose azimuth and distance were measured.

    The azimuth is brought to grid north first: from true north by the direction of true north on the grid at
    the plot (meridian convergence), from magnetic north by the declination of the settings before that.
    Distances are level; the scale of the projection, below 0.1 % in its zone, is left out.

    Parameters
    ----------
    stems : polars.DataFrame
        Measured stems, with ``plot`` and ``source_row``.
    survey : Survey
        Readings of azimuth (degrees) and distance (m), positions of plots, CRS and settings.

    Returns
    -------
    polars.DataFrame
        `stems` with both columns, in m in the survey's CRS; missing where one of azimuth, distance and
        plot position is missing.
    """
    readings = survey.trees.select(SOURCE_ROW, "azimuth_deg", "distance_m")
    centres = _centres(survey)
    east, north = pl.col("centre_x"), pl.col("centre_y")
    bearing = ((pl.col("azimuth_deg") + pl.col("turn_deg")) * (np.pi / 180)).fill_nan(None)
    return (
        stems.join(readings.unique(SOURCE_ROW), on=SOURCE_ROW, how="left", maintain_order="left")
        .join(centres, on="plot", how="left", maintain_order="left")
        .with_columns(
            (east + pl.col("distance_m") * bearing.sin()).alias("easting"),
            (north + pl.col("distance_m") * bearing.cos()).alias("northing"),
        )
        .drop("azimuth_deg", "centre_x", "centre_y", "turn_deg")
    )


def _centres(survey: Survey) -> pl.DataFrame:
    """Return plot, centre and what is added to an azimuth there to count from grid north."""
    rules = survey.settings.plots
    shape = survey.plots.geometry
    x, y = np.asarray(shape.x, dtype=float), np.asarray(shape.y, dtype=float)
    turn = np.zeros(len(x))
    if rules.azimuth is not NorthOf.GRID and survey.crs:
        turn = true_north_deg(x, y, CRS.from_user_input(survey.crs)) + (rules.declination_deg or 0.0)
    names: pl.DataFrame = pl.from_pandas(survey.plots[["plot"]]).cast(pl.String)
    columns = [pl.Series("centre_x", x), pl.Series("centre_y", y), pl.Series("turn_deg", turn)]
    return names.with_columns(columns).drop_nulls("plot").fill_nan(None).unique("plot", keep="first")


def with_compartments(stems: pl.DataFrame, survey: Survey, homes: pl.DataFrame) -> pl.DataFrame:
    """Add ``compartment``: the one a stem counts for.

    Parameters
    ----------
    stems : polars.DataFrame
        After `with_positions`; tallied stems have no positions.
    survey : Survey
        Compartments and edge rule.
    homes : polars.DataFrame
        ``plot``, ``compartment`` and ``design`` of plots that enter.

    Returns
    -------
    polars.DataFrame
        Stems of plots that enter. Under the edge rule positions the compartment is the one the stem stands
        in, missing where that is none, if its plot is a circle; otherwise it is the plot's.
    """
    entering = stems.join(homes, on="plot", maintain_order="left")
    if survey.settings.plots.edge is not EdgeRule.POSITIONS or "easting" not in stems.columns:
        return entering
    x, y = entering["easting"].to_numpy(), entering["northing"].to_numpy()
    points = np.full(len(x), None, dtype=object)
    known = np.isfinite(x.astype(float)) & np.isfinite(y.astype(float))
    points[known] = shapely.points(x[known], y[known])
    names = survey.compartments["compartment"].fillna("").astype(str).to_numpy()
    found = locate(
        gpd.GeoSeries(points),
        survey.compartments.geometry.to_numpy(),
        names,
        entering["compartment"].to_numpy(),
    )
    labels = pl.Series("name", names.tolist(), dtype=pl.String)
    position = pl.Series("position", found["position"].to_numpy()).cast(pl.Int64)
    own = pl.select(pl.when(position >= 0).then(labels.gather(position.clip(lower_bound=0)))).to_series()
    shared = pl.col("design") == Design.CIRCLE
    return entering.with_columns(pl.when(shared).then(own).otherwise("compartment").alias("compartment"))


def place_findings(
    stems: pl.DataFrame, tallied: pl.DataFrame, rules: PlotsSection, files: tuple[str, str]
) -> Findings:
    """Return what is wrong about where stems stand.

    Parameters
    ----------
    stems : polars.DataFrame
        Measured stems of plots that enter: ``plot``, ``tree``, ``dbh_cm``, ``over_bark_cm``, ``distance_m``,
        ``easting``, ``design``, ``level``, ``ring_m2`` (level area of the whole ring), ``baf_level_m2_per_ha`` and
        ``source_row``.
    tallied : polars.DataFrame
        Tallied stems of plots that enter: ``plot`` and ``source_row``.
    rules : PlotsSection
        Edge rule.
    files : tuple of str
        Files of trees and tallies.

    Returns
    -------
    Findings
        stem-beyond-radius, stem-beyond-limit; under the edge rule positions also stem-without-position and
        tally-without-position.
    """
    # laid out along the slope, a plot reaches its full radius along the contour
    radius = (pl.col("ring_m2") / pl.col("level") / np.pi).sqrt()
    limit = LIMIT_M_PER_CM * seen_cm() / (pl.col("baf_level_m2_per_ha") * pl.col("level")).sqrt()
    round_plot = pl.col("design").is_in([Design.CIRCLE, Design.NESTED])
    parts = [
        (
            "stem-beyond-radius",
            round_plot,
            radius,
            "the stem is {} m from the centre, but the plot reaches {} m",
        ),
        (
            "stem-beyond-limit",
            pl.col("design") == Design.ANGLE_COUNT,
            limit,
            "the stem is {} m from the centre, but its limiting distance is {} m",
        ),
    ]
    found = [
        findings_of(
            code,
            stems.filter(which & (pl.col("distance_m") > reach + _TOLERANCE_M)),
            files[0],
            pl.format(words, "distance_m", reach.round(2)),
            plot="plot",
            column="distance_m",
            value="distance_m",
        )
        for code, which, reach, words in parts
    ]
    if rules.edge is EdgeRule.POSITIONS:
        lacking = stems.filter(pl.col("easting").is_null() & (pl.col("design") == Design.CIRCLE))
        rows = tallied.filter(pl.col("design") == Design.CIRCLE).unique(SOURCE_ROW, maintain_order=True)
        text = pl.lit("edge = 'positions' needs azimuth_deg and distance_m of every stem")
        found.append(
            findings_of("stem-without-position", lacking, files[0], text, plot="plot", column="azimuth_deg")
        )
        found.append(findings_of("tally-without-position", rows, files[1], text, plot="plot"))
    return Findings.join(found)
