"""Size classes and species of strata and survey, and the share of each species in basal area."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.class_rule import ClassRule
from plotmap.model.plot_table import COUNT_DECIMALS, PlotValues
from plotmap.model.result_tables import CLASS_SUM_RESULTS, FULL_COUNT, SPECIES_SUM_RESULTS
from plotmap.model.scopes import COMPARTMENT, STRATUM, SURVEY
from plotmap.model.settings import Settings
from plotmap.stand.borrowing import lend_variance
from plotmap.stand.compartments import SAMPLED_HA, TOTAL_OF
from plotmap.stand.limits import INTERVAL, first_words, largest_stem_m2, limits_of, unseen_stems, with_unseen
from plotmap.stand.scopes import Scopes
from plotmap.statistics import combine, nonnegative_interval

_Ints = npt.NDArray[np.intp]
_Floats = npt.NDArray[np.float64]
_SUFFIXES = ("", "_se", "_low", "_high")
_LITTLE_CM = 1e-3
_FIGURES = ["n_trees", *(name + suffix for pair in TOTAL_OF.items() for name in pair for suffix in _SUFFIXES)]


def sum_classes(class_totals: pl.DataFrame, compartments: pd.DataFrame, settings: Settings) -> pl.DataFrame:
    """Add up the size classes of the compartments of each stratum and of the survey.

    Parameters
    ----------
    class_totals : polars.DataFrame
        `CLASS_TOTAL_RESULTS` of the compartments.
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    settings : Settings
        Class rule, confidence, and what is done about compartments with one plot.

    Returns
    -------
    polars.DataFrame
        Columns of `CLASS_SUM_RESULTS`, by size. Totals are Σ area × mean, their variance Σ area² × se²
        (Cochran 1977, ch. 5), a compartment without the class being a zero; figures per hectare are the totals
        over the hectares covered. A class between two filled ones stays, with zeros and what could still stand
        there (`plotmap.stand.limits.unseen_stems`). A compartment with one plot is treated as in
        `plotmap.stand.totals`.
    """
    order = _every_class(class_totals, settings.class_rule)
    summed = _summed(class_totals, order["class"], compartments, settings, gaps=True)
    labelled = summed.join(order, on="class", how="left", maintain_order="left")
    nothing, thickest = pl.col("n_trees") == 0, largest_stem_m2(settings.class_rule, pl.col("high_cm"))
    unseen = [
        pl.when(nothing)
        .then(pl.coalesce(f"basal_area_m2_{of}_high", pl.col(f"stems_{of}_high") * thickest))
        .otherwise(f"basal_area_m2_{of}_high")
        .alias(f"basal_area_m2_{of}_high")
        for of in ("total", "per_ha")
    ]
    return labelled.with_columns(unseen).select(CLASS_SUM_RESULTS.names)


def _every_class(class_totals: pl.DataFrame, rule: ClassRule) -> pl.DataFrame:
    """Return name and edges of every class from the smallest to the largest one that has a row."""
    size = pl.when(pl.col("high_cm").is_null()).then(pl.col("low_cm") + _LITTLE_CM)
    middle = size.when(pl.col("low_cm").is_null()).then(pl.col("high_cm") - _LITTLE_CM)
    inside = middle.otherwise((pl.col("low_cm") + pl.col("high_cm")) / 2) * rule.diameter_per_size
    indexes = class_totals.select(rule.index(inside)).to_series()
    if indexes.is_empty():
        return rule.frame(indexes)
    known = indexes.to_list()
    return rule.frame(pl.Series(range(min(known), max(known) + 1), dtype=pl.Int32))


def sum_species(
    species_totals: pl.DataFrame,
    values: PlotValues,
    compartments: pd.DataFrame,
    scopes: Scopes,
    settings: Settings,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Add up the species of each stratum and of the survey, and share basal area out over them.

    The share is a ratio of two totals over the same plots, R = Σ area × mean of the species over that of all
    species; its variance is that of the linearised residuals y - R x of the plots (Cochran 1977, ch. 6; 2.13
    for domains), summed over compartments with their squared areas.

    Parameters
    ----------
    species_totals : polars.DataFrame
        `SPECIES_TOTAL_RESULTS` of the compartments, without the shares.
    values : PlotValues
        Reads ``cells`` and ``units``.
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    scopes : Scopes
        All scopes.
    settings : Settings
        Confidence, and what is done about compartments with one plot.

    Returns
    -------
    species_totals, species_sums : polars.DataFrame
        The first with the columns of the share; the second with the columns of `SPECIES_SUM_RESULTS`. The
        error of a share is missing where a compartment of the scope has one plot.
    """
    shares = _shares(values, scopes).join(scopes.table.select("sample", "scope", "name"), on="sample")
    own = shares.filter(pl.col("scope") == COMPARTMENT).rename({"name": "compartment"})
    figures = ["basal_area_share_pct", "basal_area_share_pct_se"]
    with_shares = species_totals.join(
        own.select("compartment", "species", *figures),
        on=["compartment", "species"],
        how="left",
        maintain_order="left",
    )
    summed = _summed(
        species_totals, species_totals["species"].unique().sort(), compartments, settings, gaps=False
    )
    sums = summed.join(
        shares.select("scope", "name", "species", *figures),
        on=["scope", "name", "species"],
        how="left",
        nulls_equal=True,
        maintain_order="left",
    )
    return with_shares, sums.select(SPECIES_SUM_RESULTS.names)


@dataclass(frozen=True, slots=True)
class _Addends:
    """The compartments with plots as they are added up in one kind of scope; arrays have one entry a compartment."""

    scope: str
    names: list[str | None]
    group: _Ints
    hectares: _Floats  # of each group
    unseen: _Floats  # of each group
    area: _Floats
    df: _Floats
    stratum: _Ints
    sampled: _Floats
    fraction: _Floats


def _addends(rows: pd.DataFrame) -> tuple[_Addends, _Addends]:
    """Return the compartments with plots as they go into the survey, and into strata."""
    area, n_plots = rows["area_ha"].to_numpy(dtype=float), rows["n_plots"].to_numpy(dtype=float)
    whole = rows["status"].to_numpy() == FULL_COUNT
    df = np.where(whole, np.inf, np.where(n_plots > 1, n_plots - 1, np.nan))
    sampled = rows[SAMPLED_HA].to_numpy(dtype=float)
    fraction = np.where(whole, 0.0, rows["sampling_fraction"].fillna(0.0).to_numpy(dtype=float))
    codes, strata = pd.factorize(rows["stratum"].to_numpy(), sort=True)
    stratum = codes.astype(np.intp)

    def into(scope: str, names: list[str | None], group: _Ints) -> _Addends:
        """Return the addends of one kind of scope."""
        hectares = np.bincount(group, area, len(names)).astype(np.float64)
        unseen = unseen_stems(rows, group, len(names))
        return _Addends(scope, names, group, hectares, unseen, area, df, stratum, sampled, fraction)

    return (
        into(SURVEY, [None], np.zeros(len(rows), np.intp)),
        into(STRATUM, [str(name) for name in strata], stratum),
    )


def _summed(
    totals: pl.DataFrame, domains: pl.Series, compartments: pd.DataFrame, settings: Settings, *, gaps: bool
) -> pl.DataFrame:
    """Return the sums of a table of compartments over strata and survey, by domain in the order given."""
    key, covered = domains.name, compartments["n_plots"].to_numpy() > 0
    rows = pd.DataFrame(compartments[covered])
    place = pl.DataFrame({"compartment": rows["compartment"].tolist()}, schema={"compartment": pl.String})
    place = place.with_row_index("place")
    found = totals.join(place, on="compartment", maintain_order="left")
    if not len(domains):
        return pl.DataFrame(
            schema=dict.fromkeys(_FIGURES, pl.Float64)
            | dict.fromkeys(("scope", "name", key, INTERVAL), pl.String)
        )
    scopes = _addends(rows)
    made = []
    for domain in domains:
        of_domain = found.filter(pl.col(key) == domain)
        for scope in scopes:
            table = _one_domain(of_domain, scope, settings)
            made.append(
                table.with_columns(
                    pl.lit(scope.scope).alias("scope"),
                    pl.Series("name", scope.names, dtype=pl.String),
                    pl.lit(domain).alias(key),
                )
            )
    table = pl.concat(made)
    within = ["scope", "name"]
    there = pl.col("n_trees") > 0
    if gaps:
        there = there.cum_max().over(within) & there.cum_max(reverse=True).over(within)
    is_stratum = pl.col("scope") == STRATUM
    return table.filter(there).sort(is_stratum, "name", maintain_order=True)


def _one_domain(of_domain: pl.DataFrame, scope: _Addends, settings: Settings) -> pl.DataFrame:
    """Return the sums of one class or species for each group of compartments; one without it is a zero."""
    group, n_groups, n = scope.group, len(scope.names), len(scope.group)
    where = of_domain["place"].to_numpy()
    made: dict[str, _Floats] = {
        "n_trees": np.bincount(group[where], of_domain["n_trees"].to_numpy(), n_groups)
        .astype(float)
        .round(COUNT_DECIMALS)
    }
    limits, words = limits_of(settings), []
    for per_ha, total in TOTAL_OF.items():
        mean, se = np.zeros(n), np.where(np.isnan(scope.df), np.nan, 0.0)
        mean[where] = of_domain[per_ha].to_numpy()
        se[where] = of_domain[f"{per_ha}_se"].cast(pl.Float64).fill_null(np.nan).to_numpy()
        freedom = scope.df
        if settings.estimates.one_plot_variance == "pooled":
            se, freedom = lend_variance(
                scope.area, se, freedom, scope.sampled, scope.stratum, group, scope.fraction
            )
        summed, error, of_error = combine(scope.area, mean, se, freedom, group, n_groups)
        low, high, word = nonnegative_interval(limits.kind, summed, error, of_error, limits.confidence)
        high, word = with_unseen(high, word, total, summed, error, scope.unseen)
        words.append(word)
        for suffix, part in zip(_SUFFIXES, (summed, error, low, high), strict=True):
            made[total + suffix] = part
            made[per_ha + suffix] = part / scope.hectares
    return pl.DataFrame(made).fill_nan(None).with_columns(pl.Series(INTERVAL, first_words(words)))


def _shares(values: PlotValues, scopes: Scopes) -> pl.DataFrame:
    """Return ``sample``, ``species`` and the share of basal area with its error, of every scope."""
    key = ["compartment", "plot"]
    whole = ordered_sums(values.cells, key, x=pl.col("basal_area_m2"))
    weights = values.units.select(*key, pl.col("weight_ha").alias("a"), "full_count")
    plots = weights.join(whole, on=key, how="left", maintain_order="left").with_columns(
        pl.col("x").fill_null(0.0)
    )
    of_all = ordered_sums(
        plots, ["compartment"], a=pl.col("a"), aa=pl.col("a") ** 2, x=pl.col("x"), xx=pl.col("x") ** 2,
        ax=pl.col("a") * pl.col("x"), n=pl.lit(1.0), full=pl.col("full_count").cast(pl.Float64),
    )  # fmt: skip
    species = ordered_sums(values.cells, ["compartment", "species", "plot"], y=pl.col("basal_area_m2"))
    species = species.join(plots.select(*key, "a", "x"), on=key, maintain_order="left")
    y, x, a = pl.col("y"), pl.col("x"), pl.col("a")
    of_species = ordered_sums(species, ["compartment", "species"], y=y, yy=y**2, ay=a * y, xy=x * y).join(
        of_all, on="compartment", maintain_order="left"
    )
    n = pl.col("n")
    lift = pl.when(pl.col("full") > 0).then(0.0).when(n > 1).then(n / (n - 1))
    per_y, per_x = y / a, x / a
    own_xx = pl.col("xx") - 2 * per_x * pl.col("ax") + per_x**2 * pl.col("aa")
    parts = of_species.select(
        "compartment",
        "species",
        "y",
        yy=lift * (pl.col("yy") - 2 * per_y * pl.col("ay") + per_y**2 * pl.col("aa")),
        xy=lift * (pl.col("xy") - per_x * pl.col("ay") - per_y * pl.col("ax") + per_x * per_y * pl.col("aa")),
    )
    base = of_all.select("compartment", "x", xx=lift * own_xx)
    members = scopes.members.join(base, on="compartment", maintain_order="left")
    f = pl.col("factor")
    of_scope = ordered_sums(
        members, ["sample"], x=f * x, xx=f**2 * pl.col("xx"), unknown=pl.col("xx").is_null().cast(pl.Float64)
    )
    joined = scopes.members.join(parts, on="compartment", maintain_order="left")
    sums = ordered_sums(
        joined.filter(pl.col("species").is_not_null()),
        ["sample", "species"],
        y=f * y,
        yy=f**2 * pl.col("yy"),
        xy=f**2 * pl.col("xy"),
    ).join(of_scope, on="sample", maintain_order="left")
    share = y / x
    variance = (pl.col("yy") - 2 * share * pl.col("xy") + share**2 * pl.col("xx")).clip(lower_bound=0.0)
    return sums.select(
        "sample",
        "species",
        pl.when(x > 0).then(100 * share).alias("basal_area_share_pct"),
        pl.when((x > 0) & (pl.col("unknown") == 0))
        .then(100 * variance.sqrt() / x)
        .alias("basal_area_share_pct_se"),
    )
