"""Stems and plots as removals need them: what each stem adds to density, basal area and volume."""

from __future__ import annotations

import polars as pl

from plotmap.model.plot_table import PlotValues
from plotmap.model.survey import Survey
from plotmap.model.thinning import StemParts
from plotmap.stand.density import WHOLE, unit_parts, with_maximum
from plotmap.stand.heights import stem_heights
from plotmap.stand.volumes import stem_volumes
from plotmap.units import M2_PER_CM2


def stem_parts(survey: Survey, values: PlotValues) -> StemParts:
    """Return every stem with what it adds to its plot's sums, and every plot with its area and top height.

    The sums over a plot, divided by its area, are the figures that `plotmap.stand.estimate_stand` makes its
    estimates from. Height curves are those of the whole survey.

    Parameters
    ----------
    survey : Survey
        Species, equations and constants of Reineke's index.
    values : PlotValues
        Plots that enter, and what stands on them.

    Returns
    -------
    StemParts
        Stems in the order of ``values.standing``.
    """
    density = survey.settings.density
    heights = stem_heights(values.standing, survey.settings)
    units = unit_parts(heights.stems, values.units, density)
    whole = values.units.select("plot", "compartment", "full_count")
    power = (pl.col("dbh_cm") / density.reineke_dbh_cm) ** density.reineke_exponent
    n = pl.col("stems")
    stems = with_maximum(stem_volumes(heights, survey.species, survey.settings), density)
    stems = stems.join(whole, on=["plot", "compartment"], how="left", maintain_order="left").select(
        pl.when("full_count").then(pl.lit(WHOLE)).otherwise("plot").alias("plot"),
        "compartment",
        "species",
        "species_written",
        "class_index",
        "dbh_cm",
        "square_cm2",
        "stems",
        pl.when("live").then(n).otherwise(0.0).alias("live"),
        (n * pl.col("square_cm2") * M2_PER_CM2).alias("basal_area_m2"),
        (n * pl.col("dbh_cm")).alias("dbh_sum_cm"),
        (n * power / pl.col("maximum")).alias("density"),
        (n * pl.col("volume_m3")).alias("volume_m3"),
    )
    columns = ["compartment", "plot", "area", "n_full", "top", "top_h", "n_top_missing"]
    return StemParts(stems, units.select(columns), survey.settings.class_rule)
