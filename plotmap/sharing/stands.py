"""Another stand from which every writer works as usual: what an audience may see, and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import shapely

from plotmap.model.finding_rules import RULES
from plotmap.model.findings import FINDING_SCHEMA, Findings
from plotmap.model.labels import labels_of
from plotmap.model.result_tables_heights import ALL_SPECIES
from plotmap.model.scopes import STRATUM, SURVEY
from plotmap.model.settings import Settings
from plotmap.model.settings_share import ShareSection
from plotmap.model.sharing import OTHER_SPECIES, Audience, Hidden
from plotmap.model.survey import Stand
from plotmap.sharing.places import in_order_of, key_of, new_names, new_places, points_of

if TYPE_CHECKING:
    import geopandas as gpd

_OF_THE_CREW = ("crew", "slope_pct", "area_m2", "share_inside", "n_trees", "source_row")
"""Columns of plots that name people, or from which a place or a row of the field files could be found again."""
_STEPS = {"stems_per_ha": 10.0, "basal_area_m2_per_ha": 1.0, "dg_cm": 1.0}
"""Figures of single plots are rounded to whole steps: exact ones tell the plot's area, and by it its place."""
_ROWS = "rows"
_NOT_SHARED = (
    "trees",
    "tallied",
    "instrument_log",
    "check_differences",
    "check_summary",
    "band_confusion",
)
_OF_PEOPLE = ("instruments", "species", "check_trees")
"""Tables whose rows are not accounted for to others."""


def share_stand(
    stand: Stand, hidden: Hidden, audience: Audience, *, gaps: tuple[bool, bool] = (False, False)
) -> Stand:
    """Return what an audience may see of a stand, with its species hidden already (`hide_species`).

    Both: no stems, tallies, instruments and check measurements; findings only as numbers by kind; no input files
    and hashes; settings without names of hidden species, own headings, own layers and the phrase.
    Managers: plots under new numbers at places drawn in their compartment, with rounded figures. Public: no plots,
    and species of strata and the survey only.

    Parameters
    ----------
    stand : Stand
        Computed from values in which sensitive species are `OTHER_SPECIES`.
    hidden : Hidden
        What `hide_species` put together.
    audience : Audience
        Who it is for.
    gaps : tuple of bool
        Whether missing volumes, and missing relative densities, would show where sensitive species stand; they
        are then left out everywhere.

    Returns
    -------
    Stand
        With all tables declared; those that are not shared have no rows.
    """
    public = audience is Audience.PUBLIC
    empty = {name: getattr(stand, name).clear() for name in _NOT_SHARED}
    volumes, equations = _volumes(stand, hidden, withheld=gaps[0])
    if public:
        empty |= {name: getattr(stand, name).clear() for name in ("classes", "species_totals")}
        alone = (stand.compartments.groupby("stratum").size() == 1).any()
        kept = (
            [SURVEY] if alone else [SURVEY, STRATUM]
        )  # a stratum of one compartment would be that compartment
        empty["species_sums"] = stand.species_sums.filter(pl.col("scope").is_in(kept))
        if volumes.height:
            together = pl.col("species") == ALL_SPECIES
            volumes = volumes.filter(together | pl.col("scope").is_in(kept))
    return replace(
        stand,
        settings=_settings(stand.settings, hidden, audience),
        inputs=(),
        plots=stand.plots.iloc[:0] if public else _plots(stand),
        grid_errors=stand.grid_errors.with_columns(pl.lit(None, pl.String).alias("grid")),
        stand_density=_density(stand.stand_density, withheld=gaps[1]),
        volumes=volumes,
        volume_equations=equations,
        findings=_counted(stand.findings),
        ledger=_ledger(stand.ledger),
        map_layers=(),
        **empty,
    )


def _plots(stand: Stand) -> gpd.GeoDataFrame:
    """Return plots under new numbers, at places drawn in their compartments, in the order of the numbers."""
    import geopandas as gpd  # noqa: PLC0415 - slow to import

    plots = stand.plots
    names = plots["plot"].astype(object).fillna("").astype(str).tolist()
    key = key_of(plots, stand.settings.share.phrase)
    outlines = dict(zip(stand.compartments["compartment"], stand.compartments.geometry, strict=True))
    areas = np.array([outlines.get(home) for home in plots["compartment"]], dtype=object)
    at = new_places(names, areas, key, true_places(stand))
    at[np.isnan(points_of(plots)).any(axis=1)] = np.nan
    placed = np.isfinite(at).all(axis=1)
    shapes = np.full(len(at), None, dtype=object)
    shapes[placed] = shapely.points(at[placed])
    shown = plots.drop(columns="geometry").copy()
    shown["plot"] = new_names(names, key)
    for column, step in _STEPS.items():
        shown[column] = (shown[column].astype(float) / step).round() * step
    for column in _OF_THE_CREW:
        shown[column] = None if column == "crew" else np.nan
    made = gpd.GeoDataFrame(shown, geometry=shapes, crs=plots.crs)
    return made.iloc[in_order_of(made["plot"])].reset_index(drop=True)


def true_places(stand: Stand) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return easting and northing of all plots and stems of which they are known, shape (n, 2)."""
    stems = stand.trees.select("easting", "northing").drop_nulls().cast(pl.Float64).to_numpy()
    places = np.concatenate([points_of(stand.plots), stems.reshape(-1, 2)])
    found: np.ndarray[tuple[int, int], np.dtype[np.float64]] = places[np.isfinite(places).all(axis=1)]
    return found


def _settings(settings: Settings, hidden: Hidden, audience: Audience) -> Settings:
    """Return settings without names of hidden species, own headings, layers and the phrase."""
    labels = labels_of(settings)
    title = settings.survey.title.strip() or labels("share.untitled")
    unnamed = hidden.unnamed
    equations = tuple(entry for entry in settings.volume.equations if entry.species not in unnamed)
    maxima = tuple(entry for entry in settings.density.maxima if entry.species not in unnamed)
    chosen = OTHER_SPECIES if settings.map.species in unnamed else settings.map.species
    marked = labels(f"share.title_{audience}", title=title)
    return settings.model_copy(
        update={
            "survey": settings.survey.model_copy(update={"title": marked}),
            "columns": {},
            "volume": settings.volume.model_copy(update={"equations": equations}),
            "density": settings.density.model_copy(update={"maxima": maxima}),
            "map": settings.map.model_copy(update={"layers": (), "species": chosen}),
            "share": ShareSection(),
            "paper": settings.paper.model_copy(update={"author": ""}),
        }
    )


def _volumes(stand: Stand, hidden: Hidden, *, withheld: bool) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return volumes and equations, both without the numbers of stems that would tell hidden ones from others."""
    volumes, equations = stand.volumes, stand.volume_equations
    if withheld or not hidden.unnamed:
        return (volumes.clear(), equations.clear()) if withheld else (volumes, equations)
    nothing = pl.lit(None, pl.Float64)
    if volumes.height:
        volumes = volumes.with_columns(nothing.alias("n_outside_range"))
    if equations.height:
        shown = equations.filter(~pl.col("species").is_in(list(hidden.unnamed)))
        counts = ("n_trees", "n_outside_range", "n_without_volume")
        equations = shown.with_columns(nothing.alias(name) for name in counts)
    return volumes, equations


def _density(density: pl.DataFrame, *, withheld: bool) -> pl.DataFrame:
    """Return density without relative density where its gaps would show a species."""
    if not withheld:
        return density
    names = ("relative_density_pct", "relative_density_pct_se")
    return density.with_columns(pl.lit(None, pl.Float64).alias(name) for name in names)


def _counted(findings: Findings) -> Findings:
    """Return one finding for each kind, with their number in place of what they say."""
    counted = findings.frame.group_by("code", "severity", maintain_order=True).len(_ROWS)
    titles: Mapping[str, str] = {code: rule.title for code, rule in RULES.items()}
    hints: Mapping[str, str] = {code: rule.hint for code, rule in RULES.items()}
    code = pl.col("code")
    rows = counted.with_columns(
        pl.lit("survey").alias("file"),
        pl.format(
            "{} (number of findings: {})", code.replace_strict(titles, return_dtype=pl.String), _ROWS
        ).alias("message"),
        code.replace_strict(hints, return_dtype=pl.String).alias("hint"),
        *(
            pl.lit(None, FINDING_SCHEMA[name]).alias(name)
            for name in ("row", "plot", "compartment", "column", "value")
        ),
    )
    return Findings(rows.select(pl.col(name).cast(kind) for name, kind in FINDING_SCHEMA.items()))


def _ledger(ledger: pl.DataFrame) -> pl.DataFrame:
    """Return the ledger by table, without names of files and without tables of people and species."""
    shown = ledger.filter(~pl.col("table").is_in(_OF_PEOPLE))
    return shown.with_columns(pl.col("table").alias("file"))
