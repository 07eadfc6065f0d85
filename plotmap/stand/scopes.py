"""Survey, strata and compartments as samples of plots: who belongs to whom, and with what weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.model.scopes import COMPARTMENT, STRATUM, SURVEY
from plotmap.stand.domains import unit_sums


@dataclass(frozen=True, slots=True)
class ScopeOfSums:
    """Survey, strata or compartments as weighted sums over the compartments covered.

    Attributes
    ----------
    word : str
        ``survey``, ``stratum`` or ``compartment``.
    names : list of str or None
        Of each one; None for the survey.
    table : pandas.DataFrame
        Their estimates, one row each.
    home : numpy.ndarray of int, shape (n_covered,)
        Row of `table` that each compartment covered belongs to.
    weight : numpy.ndarray of float, shape (n_covered,)
        What a compartment's mean per hectare counts for: its hectares, or 1 in the scope of its own.
    """

    word: str
    names: list[str | None]
    table: pd.DataFrame
    home: npt.NDArray[np.intp]
    weight: npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scopes:
    """What is looked at as a whole, numbered from 0: the survey, strata, compartments.

    Attributes
    ----------
    table : polars.DataFrame
        ``sample`` (number), ``scope``, ``name`` (missing for the survey) and ``n_plots``; one row
        each, those without plots too.
    members : polars.DataFrame
        ``sample``, ``compartment``, ``factor`` (hectares of the compartment that one hectare of its plots
        stands for) and ``block``; one row for each compartment with plots in each of its scopes.
    blocks : polars.DataFrame
        ``block`` (from 0), ``sample``, ``n`` (plots) and ``factor`` (n / (n - 1); 0 for a full count): plots
        of a block differ by chance. A block is a compartment; where one of the scope has a single plot, all
        its compartments are one block, which makes the variance too large rather than too small (collapsed
        strata, Cochran 1977, section 5A.12).
    df : numpy.ndarray of float, shape (n_scopes,)
        Degrees of freedom: plots less blocks, full counts left out.
    """

    table: pl.DataFrame
    members: pl.DataFrame
    blocks: pl.DataFrame
    df: np.ndarray

    @property
    def n(self) -> int:
        """Number of scopes."""
        return self.table.height


def scopes_of_sums(
    covered: pd.DataFrame, strata: pd.DataFrame, survey_total: pd.DataFrame
) -> tuple[ScopeOfSums, ...]:
    """Return survey, strata and compartments as sums over the compartments with plots.

    Parameters
    ----------
    covered : pandas.DataFrame
        Rows of `COMPARTMENT_RESULTS` with plots.
    strata, survey_total : pandas.DataFrame
        Columns of `STRATUM_RESULTS` and `SURVEY_RESULTS`.
    """
    own = np.arange(len(covered))
    area = covered["area_ha"].to_numpy(dtype=float)
    stratum = pd.Index(strata["stratum"]).get_indexer(pd.Index(covered["stratum"]))
    ones = np.ones(len(own))
    return (
        ScopeOfSums(SURVEY, [None], survey_total, np.zeros_like(own), area),
        ScopeOfSums(STRATUM, strata["stratum"].tolist(), strata, stratum, area),
        ScopeOfSums(COMPARTMENT, covered["compartment"].tolist(), covered, own, ones),
    )


def scopes_of(compartments: pd.DataFrame, units: pl.DataFrame) -> Scopes:
    """Return the survey, its strata and its compartments as scopes.

    Parameters
    ----------
    compartments : pandas.DataFrame
        ``compartment``, ``stratum`` and ``area_ha``.
    units : polars.DataFrame
        Columns of `plotmap.model.plot_table.UNIT_SCHEMA`.

    Returns
    -------
    Scopes
        Survey first, strata sorted by name, compartments in their order.
    """
    plain = pl.from_pandas(pd.DataFrame(compartments[["compartment", "stratum", "area_ha"]]))
    plain = plain.cast({"compartment": pl.String, "stratum": pl.String})
    strata = plain["stratum"].unique().sort()
    names = [None, *strata, *plain["compartment"]]
    kinds = [SURVEY] + [STRATUM] * len(strata) + [COMPARTMENT] * plain.height
    table = pl.DataFrame({"scope": kinds, "name": names}, schema={"scope": pl.String, "name": pl.String})
    table = table.with_row_index("sample").cast({"sample": pl.Int64})
    sums = unit_sums(units).select("compartment", "n_plots", "sampled_ha", "full_count")
    sampled = plain.with_row_index("place").join(sums, on="compartment", how="inner", maintain_order="left")
    sampled = sampled.with_columns(
        (pl.col("area_ha") / pl.col("sampled_ha")).alias("factor"),
        (pl.col("place").cast(pl.Int64) + 1 + len(strata)).alias("own"),
        (pl.col("stratum").replace_strict(strata, range(1, len(strata) + 1), return_dtype=pl.Int64)).alias(
            "of_stratum"
        ),
        pl.lit(0, pl.Int64).alias("of_survey"),
    )
    members = pl.concat(
        sampled.select(pl.col(which).alias("sample"), "compartment", "factor", "n_plots", "full_count")
        for which in ("of_survey", "of_stratum", "own")
    )
    drawn = ~pl.col("full_count")
    alone = (drawn & (pl.col("n_plots") == 1)).any().over("sample")
    together = pl.when(drawn & alone).then(pl.lit(None, pl.String)).otherwise("compartment")
    members = members.with_columns(together.alias("kin")).sort("sample", maintain_order=True)
    key = pl.struct("sample", "kin").rank("dense").cast(pl.Int64) - 1
    members = members.with_columns(key.alias("block"))
    blocks = (
        members.group_by("block", maintain_order=True)
        .agg(pl.col("sample").first(), pl.col("n_plots").sum().alias("n"), pl.col("full_count").first())
        .sort("block")
    )
    n = pl.col("n").cast(pl.Float64)
    several = ~pl.col("full_count") & (pl.col("n") > 1)
    blocks = blocks.with_columns(pl.when(several).then(n / (n - 1)).otherwise(0.0).alias("factor"))
    freedom = blocks.select(pl.when(several).then(n - 1).otherwise(0.0)).to_series().to_numpy()
    df = np.bincount(blocks["sample"].to_numpy(), freedom, table.height)
    counts = members.group_by("sample").agg(pl.col("n_plots").sum())
    return Scopes(
        table.join(counts, on="sample", how="left", maintain_order="left").with_columns(
            pl.col("n_plots").fill_null(0)
        ),
        members.select("sample", "compartment", "factor", "block"),
        blocks.select("block", "sample", "n", "factor"),
        df,
    )
