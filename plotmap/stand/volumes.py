"""Stem volume by the user's own equations and form factors, and by nothing else."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd
import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.plot_table import COUNT_DECIMALS
from plotmap.model.result_tables import ESTIMATED, FULL_COUNT, NO_PLOTS, TOTAL_PARTLY
from plotmap.model.result_tables_heights import (
    ALL_SPECIES,
    NO_CURVE,
    NO_EQUATION,
    NO_HEIGHTS,
    NOT_ABOVE_ZERO,
    VOLUME_EQUATION_RESULTS,
    VOLUME_RESULTS,
)
from plotmap.model.scopes import COMPARTMENT, STRATUM, SURVEY
from plotmap.model.settings import Settings
from plotmap.model.settings_heights import ANY_SPECIES, VolumeSetting
from plotmap.stand.borrowing import lend_variance
from plotmap.stand.compartments import SAMPLED_HA
from plotmap.stand.domains import estimate_domains
from plotmap.stand.heights import CURVE, StemHeights
from plotmap.stand.limits import Limits, limits_of
from plotmap.statistics import combine, nonnegative_interval
from plotmap.units import M2_PER_CM2

_Floats = npt.NDArray[np.float64]
_PER_HA, _TOTAL = "volume_m3_per_ha", "volume_m3_total"
_SUFFIXES = ("", "_se", "_low", "_high")
_FIGURES = [name + suffix for name in (_PER_HA, _TOTAL) for suffix in _SUFFIXES]
_COUNTS = ("n_trees", "n_height_curve", "n_outside_range", "n_without_volume")
_WHY = (NO_EQUATION, NO_HEIGHTS, NO_CURVE, NOT_ABOVE_ZERO)
_ROUND_OFF = 1e-6
SPECIES_TABLE = "form factor of the species table"
"""Source of a volume that the species table's form factor gave."""


@dataclass(frozen=True, slots=True)
class VolumeTables:
    """The two tables of volume.

    Attributes
    ----------
    volumes, equations : polars.DataFrame
        Columns of `VOLUME_RESULTS` and `VOLUME_EQUATION_RESULTS`; without rows where no volume is asked for.
    """

    volumes: pl.DataFrame
    equations: pl.DataFrame


@dataclass(frozen=True, slots=True)
class _Equation:
    """An equation of the settings, or a form factor of the species table."""

    species: str
    kind: str
    coefficients: tuple[float, float, float]
    uses_height: bool
    dbh_cm: tuple[float, float]
    height_m: tuple[float, float]
    row: dict[str, object]

    def volume(self, d: _Floats, h: _Floats, g: _Floats) -> _Floats:
        """Return volumes in m³ of diameters (cm), heights (m) and cross-sections (m²)."""
        a, b, c = self.coefficients
        with np.errstate(over="ignore", invalid="ignore"):  # what is not finite is looked at by the caller
            if self.kind == "power":
                return a * d**b * (h**c if c else 1.0)
            if self.kind == "log":
                return np.exp(a + b * np.log(d) + (c * np.log(h) if c else 0.0))
            return a + b * d**2 * h if self.kind == "d2h" else g * h * a

    def outside(self, d: _Floats, h: _Floats) -> npt.NDArray[np.bool_]:
        """Say which stems are outside the range."""
        (thin, thick), (low, high) = self.dbh_cm, self.height_m
        beyond = (d < thin - _ROUND_OFF) | (d > thick + _ROUND_OFF)
        return beyond | (h < low - _ROUND_OFF) | (h > high + _ROUND_OFF)


def estimate_volumes(
    heights: StemHeights,
    units: pl.DataFrame,
    species: pl.DataFrame,
    compartments: pd.DataFrame,
    settings: Settings,
) -> VolumeTables:
    """Estimate stem volume of every species in every compartment, stratum and the survey.

    A stem takes the equation of its species, else of its group, else of ``*``, else the form factor of the
    species table: v = g h f. Heights that were not measured come from the height curve. A tallied part has the
    diameter of its mean square. Volumes are summed by plot and estimated like basal area
    (`plotmap.stand.domains.estimate_domains`, `plotmap.statistics.combine`). Where some stem has no volume,
    the domain has none, and its status says why.

    Parameters
    ----------
    heights : StemHeights
        Every stem with its height.
    units : polars.DataFrame
        Columns of `plotmap.model.plot_table.UNIT_SCHEMA`.
    species : polars.DataFrame
        Reads ``species``, ``group`` and ``form_factor``.
    compartments : pandas.DataFrame
        As `plotmap.stand.compartments.estimate_compartments` gives it.
    settings : Settings
        Equations, confidence, and what is done about compartments with one plot.

    Returns
    -------
    VolumeTables
        Errors hold sampling only: those of equations and height curves are not known here.
    """
    equations = _all_equations(species, settings)
    if not equations:
        return VolumeTables(_no_rows(VOLUME_RESULTS.names), _no_rows(VOLUME_EQUATION_RESULTS.names))
    stems = _with_volumes(heights, equations, len(settings.volume.equations))
    cells = stems.with_columns(
        (pl.col("stems") * pl.col("volume_m3").fill_null(0.0)).alias("volume_m3"),
        _counted(pl.col("height_by") == CURVE).alias("n_height_curve"),
        _counted(pl.col("outside")).alias("n_outside_range"),
        _counted(pl.col("why").is_not_null()).alias("n_without_volume"),
    )
    homes = pl.from_pandas(
        pd.DataFrame(compartments[["compartment", "stratum", "area_ha", "n_plots", "status", SAMPLED_HA]])
    )
    single = _single(cells, units, homes, limits_of(settings))
    totals = [_added(single, homes, scope, settings) for scope in (SURVEY, STRATUM)]
    of_one = single.with_columns(pl.lit(COMPARTMENT).alias("scope"), pl.col("compartment").alias("name"))
    volumes = pl.concat([part.select(VOLUME_RESULTS.names) for part in (*totals, of_one)])
    return VolumeTables(volumes, _equation_table(equations, cells))


def stem_volumes(heights: StemHeights, species: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Return the stems with ``volume_m3`` of one stem, missing where it has none.

    Parameters
    ----------
    heights : StemHeights
        Every stem with its height.
    species : polars.DataFrame
        Reads ``species``, ``group`` and ``form_factor``.
    settings : Settings
        Equations.

    Returns
    -------
    polars.DataFrame
        Columns of ``heights.stems`` and ``volume_m3``, in the same order.
    """
    equations = _all_equations(species, settings)
    if not equations:
        return heights.stems.with_columns(pl.lit(None, pl.Float64).alias("volume_m3"))
    made = _with_volumes(heights, equations, len(settings.volume.equations))
    return made.select(*heights.stems.columns, "volume_m3")


def _all_equations(species: pl.DataFrame, settings: Settings) -> list[_Equation]:
    """Return the equations of the settings, then the form factors of the species table."""
    factors = species.filter(pl.col("form_factor").is_not_null()).unique(
        "species", keep="first", maintain_order=True
    )
    equations = [_of_settings(entry) for entry in settings.volume.equations]
    return equations + [
        _of_species(name, factor, settings.stems.bark)
        for name, factor in factors.select("species", "form_factor").iter_rows()
    ]


def _no_rows(names: list[str]) -> pl.DataFrame:
    """Return a table without rows."""
    return pl.DataFrame(schema=dict.fromkeys(names, pl.String))


def _counted(where: pl.Expr) -> pl.Expr:
    """Return the stems counted of rows that fulfil a condition."""
    return pl.when(where).then("n_trees").otherwise(0.0)


def _of_settings(entry: VolumeSetting) -> _Equation:
    """Return an equation of the settings."""
    first = entry.f if entry.kind == "form-factor" else entry.a
    ranges = (entry.min_dbh_cm, entry.max_dbh_cm, entry.min_height_m, entry.max_height_m)
    row: dict[str, object] = {"species": entry.species, "equation": entry.text, "source": entry.source}
    row |= dict(zip(("dbh_low_cm", "dbh_high_cm", "height_low_m", "height_high_m"), ranges, strict=True))
    low, high = entry.min_height_m, entry.max_height_m
    return _Equation(
        entry.species,
        entry.kind,
        (first or 0.0, entry.b or 0.0, entry.c or 0.0),
        entry.uses_height,
        (entry.min_dbh_cm, entry.max_dbh_cm),
        (-np.inf if low is None else low, np.inf if high is None else high),
        row | {"bark": entry.bark, "volume_bark": entry.volume_bark},
    )


def _of_species(species: str, factor: float, bark: str) -> _Equation:
    """Return the form factor of a species as an equation without a range."""
    row: dict[str, object] = {
        "species": species,
        "equation": f"v = g · h · {factor:.10g}",
        "source": SPECIES_TABLE,
    }
    row |= dict.fromkeys(("dbh_low_cm", "dbh_high_cm", "height_low_m", "height_high_m", "volume_bark"))
    everything = (-np.inf, np.inf)
    return _Equation(
        species=species,
        kind="form-factor",
        coefficients=(factor, 0.0, 0.0),
        uses_height=True,
        dbh_cm=everything,
        height_m=everything,
        row=row | {"bark": bark},
    )


def _with_volumes(heights: StemHeights, equations: list[_Equation], own: int) -> pl.DataFrame:
    """Add ``equation`` (its place in the list), ``volume_m3``, ``outside`` and ``why`` there is no volume."""
    stems = heights.stems
    by_name = {equation.species: place for place, equation in reversed(list(enumerate(equations[:own])))}
    factors = {equation.species: place for place, equation in enumerate(equations) if place >= own}
    names = stems.select("species_written", "species").unique()
    places = [
        by_name.get(
            written, by_name.get(group, by_name.get(ANY_SPECIES, factors.get(written, factors.get(group))))
        )
        for written, group in names.iter_rows()
    ]
    stems = stems.join(
        names.with_columns(pl.Series("equation", places, dtype=pl.Int64)),
        on=["species_written", "species"],
        how="left",
        maintain_order="left",
    )
    size = pl.when("measured").then("dbh_cm").otherwise(pl.col("square_cm2").sqrt())
    d = stems.select(size).to_series().to_numpy()
    h, g = stems["height_used_m"].to_numpy(), stems["square_cm2"].to_numpy() * M2_PER_CM2
    used = stems["equation"].fill_null(-1).to_numpy()
    volume, why = np.full(len(d), np.nan), np.full(len(d), _WHY.index(NO_EQUATION))
    outside, asks = np.zeros(len(d), dtype=bool), np.zeros(len(d), dtype=bool)
    no_height = _WHY.index(NO_CURVE if heights.any_measured else NO_HEIGHTS)
    for place, equation in enumerate(equations):
        rows = used == place
        volume[rows] = equation.volume(d[rows], h[rows], g[rows])
        outside[rows] = equation.outside(d[rows], h[rows])
        asks[rows] = equation.uses_height
        lacks = equation.uses_height & np.isnan(h[rows])
        why[rows] = np.where(lacks, no_height, _WHY.index(NOT_ABOVE_ZERO))
    given = np.isfinite(volume) & (volume > 0)
    return stems.with_columns(
        pl.Series("volume_m3", np.where(given, volume, np.nan)).fill_nan(None),
        pl.Series("outside", outside),
        pl.Series("why", np.where(given, -1, why)).replace(-1, None),
        pl.when(pl.Series(asks)).then("height_by").alias("height_by"),
    )


def _single(cells: pl.DataFrame, units: pl.DataFrame, homes: pl.DataFrame, limits: Limits) -> pl.DataFrame:
    """Return every compartment's volumes: all species first, then each."""
    bare = units.join(cells, on="compartment", how="anti").select("plot", "compartment")
    zeros = bare.with_columns(pl.lit(0.0).alias(name) for name in ("n_trees", "volume_m3"))
    quantities = {"volume_m3": _PER_HA}
    together = pl.concat([cells.select(zeros.columns), zeros])
    parts = [
        estimate_domains(together, units, [], limits, quantities).with_columns(
            pl.lit(ALL_SPECIES).alias("species")
        ),
        estimate_domains(cells, units, ["species"], limits, quantities),
    ]
    found = pl.concat([part.drop("n_trees") for part in parts], how="diagonal")
    counts = pl.concat([cells.with_columns(pl.lit(ALL_SPECIES).alias("species")), cells], how="vertical")
    sums = counts.group_by("compartment", "species").agg(
        *(pl.col(name).sum().round(COUNT_DECIMALS) for name in _COUNTS), pl.col("why").min()
    )
    everyone = homes.with_row_index("place")
    made = found.join(sums, on=["compartment", "species"], how="left").join(
        everyone, on="compartment", how="right", coalesce=True
    )
    made = made.with_columns(
        pl.col("species").fill_null(ALL_SPECIES), *(pl.col(name).fill_null(0.0) for name in _COUNTS)
    )
    made = made.with_columns(
        (pl.col("area_ha") * pl.col(_PER_HA + suffix)).alias(_TOTAL + suffix) for suffix in _SUFFIXES
    )
    ordered = made.sort("place", pl.col("species") != ALL_SPECIES, "species")
    return _blanked(ordered, pl.col("status"))


def _blanked(table: pl.DataFrame, status: pl.Expr) -> pl.DataFrame:
    """Take the figures out where a stem has no volume, and say why."""
    known = pl.col("why").is_null()
    words = pl.col("why").replace_strict(dict(enumerate(_WHY)), default=None, return_dtype=pl.String)
    return table.with_columns(
        *(pl.when(known).then(name).alias(name) for name in _FIGURES),
        pl.coalesce(words, status).alias("status"),
    )


def _added(single: pl.DataFrame, homes: pl.DataFrame, scope: str, settings: Settings) -> pl.DataFrame:
    """Add the compartments up to strata or the survey, for each species that stands there."""
    name = pl.col("stratum") if scope == STRATUM else pl.lit(None, pl.String)
    rows = single.filter(pl.col("n_plots") > 0).with_columns(
        name.alias("name"), (pl.col("species") != ALL_SPECIES).alias("one")
    )
    key = ["name", "one", "species"]
    covered = homes.with_columns(name.alias("name")).filter(pl.col("n_plots") > 0)
    covered = ordered_sums(covered, ["name"], hectares=pl.col("area_ha"))
    table = rows.group_by(key).agg(*(pl.col(count).sum() for count in _COUNTS), pl.col("why").min()).sort(key)
    table = table.with_row_index("group").join(covered, on="name", nulls_equal=True, maintain_order="left")
    usable = rows.join(table.filter(pl.col("why").is_null()).select(*key, "group"), on=key, nulls_equal=True)
    total, se, df = _combined(usable.sort("group", "place"), table.height, settings)
    limits = limits_of(settings)
    low, high, _ = nonnegative_interval(limits.kind, total, se, df, limits.confidence)
    figures = dict(zip(_SUFFIXES, (total, se, low, high), strict=True))
    table = table.with_columns(
        pl.Series(_TOTAL + suffix, figure).fill_nan(None) for suffix, figure in figures.items()
    ).with_columns(
        (pl.col(_TOTAL + suffix) / pl.col("hectares")).alias(_PER_HA + suffix) for suffix in _SUFFIXES
    )
    without_error = pl.col(f"{_TOTAL}_se").is_null()
    status = pl.when(without_error).then(pl.lit(TOTAL_PARTLY)).otherwise(pl.lit(ESTIMATED))
    made = _blanked(table, status).with_columns(pl.lit(scope).alias("scope"))
    lacking = homes.with_columns(name.alias("name")).join(covered, on="name", how="anti", nulls_equal=True)
    empty = (
        lacking.select("name")
        .unique(maintain_order=True)
        .with_columns(
            pl.lit(scope).alias("scope"),
            pl.lit(ALL_SPECIES).alias("species"),
            pl.lit(NO_PLOTS).alias("status"),
            *(pl.lit(0.0).alias(count) for count in _COUNTS),
        )
    )
    return pl.concat([made, empty], how="diagonal").sort("name", pl.col("species") != ALL_SPECIES, "species")


def _combined(rows: pl.DataFrame, n_groups: int, settings: Settings) -> tuple[_Floats, _Floats, _Floats]:
    """Return total, standard error and degrees of freedom of each group of compartments."""
    group = rows["group"].to_numpy().astype(np.intp)
    n, area = rows["n_plots"].to_numpy().astype(float), rows["area_ha"].to_numpy()
    se = rows[f"{_PER_HA}_se"].cast(pl.Float64).fill_null(np.nan).to_numpy().copy()
    whole = (rows["status"] == FULL_COUNT).to_numpy()
    df = np.where(whole, np.inf, np.where(n > 1, n - 1, np.nan))
    if settings.estimates.one_plot_variance == "pooled":
        stratum = pd.factorize(rows["stratum"].to_numpy())[0].astype(np.intp)
        for name in rows["species"].unique(maintain_order=True):
            own = (rows["species"] == name).to_numpy()
            into = pd.factorize(group[own])[0].astype(np.intp)
            se[own], df[own] = lend_variance(
                area[own], se[own], df[own], rows[SAMPLED_HA].to_numpy()[own], stratum[own], into
            )
    return combine(area, rows[_PER_HA].to_numpy(), se, df, group, n_groups)


def _equation_table(equations: list[_Equation], cells: pl.DataFrame) -> pl.DataFrame:
    """Return the equations that stems were computed by, with what they were used for."""
    used = cells.group_by("equation").agg(
        pl.col(name).sum().round(COUNT_DECIMALS)
        for name in ("n_trees", "n_outside_range", "n_without_volume")
    )
    table = pl.DataFrame([equation.row for equation in equations], infer_schema_length=None)
    table = table.with_columns(pl.Series("equation_place", range(len(equations)), dtype=pl.Int64))
    joined = table.join(
        used.rename({"equation": "equation_place"}), on="equation_place", maintain_order="left"
    )
    return joined.select(VOLUME_EQUATION_RESULTS.names)
