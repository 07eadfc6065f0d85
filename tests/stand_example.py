"""A small made-up stand that has every declared column: for tests of the writers, not of the figures."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import polars as pl
from shapely.geometry import Point, box

from plotmap.model.columns import Kind, Table
from plotmap.model.findings import Findings, finding
from plotmap.model.ledger import LedgerEntry, ledger_frame
from plotmap.model.result_tables import (
    BAND_CONFUSION_RESULTS,
    CHECK_DIFFERENCE_RESULTS,
    CHECK_SUMMARY_RESULTS,
    CLASS_RESULTS,
    CLASS_SUM_RESULTS,
    CLASS_TOTAL_RESULTS,
    COMPARTMENT_RESULTS,
    ERROR_PART_RESULTS,
    GRID_ERROR_RESULTS,
    INSTRUMENT_LOG_RESULTS,
    MODEL_BASED_RESULTS,
    PLOT_RESULTS,
    SECTION_EFFECT_RESULTS,
    SPECIES_SUM_RESULTS,
    SPECIES_TOTAL_RESULTS,
    STRATUM_RESULTS,
    STRUCTURE_RESULTS,
    SURVEY_RESULTS,
    TALLIED_RESULTS,
    TREE_RESULTS,
)
from plotmap.model.result_tables_heights import (
    HEIGHT_CURVE_RESULTS,
    STAND_DENSITY_RESULTS,
    VOLUME_EQUATION_RESULTS,
    VOLUME_RESULTS,
)
from plotmap.model.settings import Settings
from plotmap.model.survey import InputFile, Stand

_CRS = "EPSG:32630"
_POLARS = {Kind.NUMBER: pl.Float64, Kind.COUNT: pl.Int64}


def _random(table: Table, rows: dict[str, list[object]], rng: np.random.Generator) -> dict[str, list[object]]:
    """Fill the columns that `rows` leaves open with random numbers; estimates keep their order."""
    n = len(next(iter(rows.values())))
    filled: dict[str, list[object]] = {}
    for column in table.columns:
        name = column.name
        stem = name.removesuffix("_low").removesuffix("_high").removesuffix("_se")
        if name in rows:
            filled[name] = rows[name]
        elif name != stem and stem in filled:
            share = {"_se": 0.1, "_low": 0.8, "_high": 1.2}["_" + name.rpartition("_")[2]]
            filled[name] = [None if v is None else float(v) * share for v in filled[stem]]  # type: ignore[arg-type]
        elif column.kind is Kind.NUMBER:
            filled[name] = [float(v) for v in rng.uniform(5, 50, n)]
        elif column.kind is Kind.COUNT:
            filled[name] = [int(v) for v in rng.integers(2, 9, n)]
        else:
            filled[name] = [None] * n
    return filled


def _polars(table: Table, rows: dict[str, list[object]], rng: np.random.Generator) -> pl.DataFrame:
    """Return a polars frame of a declared table."""
    schema = {column.name: _POLARS.get(column.kind, pl.String) for column in table.columns}
    return pl.DataFrame(_random(table, rows, rng), schema=schema, strict=False)


def stand_example(n_side: int = 3, *, species: tuple[str, ...] = ("ash", "oak <b>"), seed: int = 7) -> Stand:
    """Return a stand of `n_side` × `n_side` square compartments of 4 ha with two plots each.

    The last compartment has no plots and the one before it has one; the first plot is unvisited.
    Figures are random and do not hang together.
    """
    rng = np.random.default_rng(seed)
    n = n_side * n_side
    names = [f"{i + 1:02d}" for i in range(n)]
    status = ["estimated"] * (n - 2) + ["one plot", "no plots"]
    polygons = [
        box(499_000 + 200 * (i % n_side), 5_600_000 + 200 * (i // n_side), 499_200 + 200 * (i % n_side),
            5_600_200 + 200 * (i // n_side))
        for i in range(n)
    ]  # fmt: skip
    table = _random(
        COMPARTMENT_RESULTS,
        {
            "compartment": list(names),
            "name": [f"Block {name}" for name in names],
            "stratum": ["valley" if i % 2 else "slope & top" for i in range(n)],
            "area_ha": [4.0] * n,
            "area_source": ["geodesic"] * n,
            "n_plots": [2] * (n - 2) + [1, 0],
            "status": list(status),
        },
        rng,
    )
    compartments = gpd.GeoDataFrame(table, geometry=polygons, crs=_CRS)
    estimates = [c.name for c in COMPARTMENT_RESULTS.columns if c.unit != "ha" and c.kind is Kind.NUMBER]
    errors = [name for name in estimates if name.endswith(("_se", "_low", "_high", "error_pct"))]
    compartments.loc[compartments["status"] == "no plots", estimates] = np.nan
    compartments.loc[compartments["status"] == "one plot", errors] = np.nan
    homes = [name for name, word in zip(names, status, strict=True) if word == "estimated" for _ in (0, 1)]
    homes.append(names[-2])
    plots = gpd.GeoDataFrame(
        _random(
            PLOT_RESULTS,
            {
                "plot": [f"P{i + 1:03d}" for i in range(len(homes))],
                "compartment": list(homes),
                "state": ["unvisited", "empty"] + ["measured"] * (len(homes) - 2),
                "set_aside": ["unvisited", *[None] * (len(homes) - 1)],
                "date": ["2026-05-14"] * len(homes),
                "share_inside": [1.0] * len(homes),
            },
            rng,
        ),
        geometry=[
            Point(
                polygons[names.index(home)].centroid.x + 40 * (i % 2), polygons[names.index(home)].centroid.y
            )
            for i, home in enumerate(homes)
        ],
        crs=_CRS,
    )
    with_figures = names[:-1]
    labels = ["10–<15", "15–<20", "20–<25", "25–<30"]
    cells = [(c, s, k) for c in with_figures for s in species for k in range(len(labels))]
    classes = _polars(
        CLASS_RESULTS,
        {
            "compartment": [c for c, _, _ in cells],
            "species": [s for _, s, _ in cells],
            "class": [labels[k] for _, _, k in cells],
            "low_cm": [10.0 + 5 * k for _, _, k in cells],
            "high_cm": [15.0 + 5 * k for _, _, k in cells],
        },
        rng,
    )
    pairs = [(c, k) for c in with_figures for k in range(len(labels))]
    class_totals = _polars(
        CLASS_TOTAL_RESULTS,
        {
            "compartment": [c for c, _ in pairs],
            "class": [labels[k] for _, k in pairs],
            "low_cm": [10.0 + 5 * k for _, k in pairs],
            "high_cm": [15.0 + 5 * k for _, k in pairs],
        },
        rng,
    )
    kinds = [(c, s) for c in with_figures for s in species]
    species_totals = _polars(
        SPECIES_TOTAL_RESULTS, {"compartment": [c for c, _ in kinds], "species": [s for _, s in kinds]}, rng
    )
    stems = 40
    trees = _polars(
        TREE_RESULTS,
        {
            "plot": [f"P{3 + i % (len(homes) - 2):03d}" for i in range(stems)],
            "tree": [str(i + 1) for i in range(stems)],
            "species": [species[i % len(species)] for i in range(stems)],
            "class": [labels[i % len(labels)] for i in range(stems)],
            "reading": ["calipers 20.1, 21.3 cm"] * stems,
            "source_row": [i + 2 for i in range(stems)],
        },
        rng,
    )
    tallied = _polars(
        TALLIED_RESULTS,
        {
            "plot": ["P003", "P004"],
            "species": [species[0]] * 2,
            "tallied_as": ["ochre", "=SUM(A1)"],
            "class": [labels[0], labels[1]],
        },
        rng,
    )
    strata = pd.DataFrame(
        _random(
            STRATUM_RESULTS,
            {
                "stratum": ["slope & top", "valley"],
                "status": ["estimated"] * 2,
                "area_source": ["geodesic"] * 2,
            },
            rng,
        )
    )
    total = pd.DataFrame(_random(SURVEY_RESULTS, {"status": ["estimated"], "area_source": ["geodesic"]}, rng))
    class_sums = _polars(
        CLASS_SUM_RESULTS,
        {
            "scope": ["survey"] * len(labels),
            "name": [None] * len(labels),
            "class": list(labels),
            "low_cm": [10.0 + 5 * k for k in range(len(labels))],
            "high_cm": [15.0 + 5 * k for k in range(len(labels))],
        },
        rng,
    )
    species_sums = _polars(
        SPECIES_SUM_RESULTS,
        {"scope": ["survey"] * len(species), "name": [None] * len(species), "species": list(species)},
        rng,
    )
    structure = _polars(
        STRUCTURE_RESULTS,
        {
            "scope": ["survey", "stratum", "stratum"],
            "name": [None, "slope & top", "valley"],
            "form": ["bell", "reverse-J", None],
        },
        rng,
    )
    differences = _polars(
        CHECK_DIFFERENCE_RESULTS,
        {
            "plot": ["P003", "P003", "P004"],
            "outcome": ["pair", "missed", "extra"],
            "compared_by": ["number", None, None],
            "check_crew": ["=1+1", "=1+1", None],
            "source_row": [4, None, 9],
            "check_source_row": [2, 3, None],
        },
        rng,
    )
    summary = _polars(CHECK_SUMMARY_RESULTS, {"group": ["all", "crew"], "value": ["all", "north"]}, rng)
    confusion = _polars(
        BAND_CONFUSION_RESULTS,
        {
            "crew": ["north"] * 2,
            "basis": ["counts"] * 2,
            "class": ["ochre"] * 2,
            "check_class": ["ochre", None],
        },
        rng,
    )
    findings = Findings.join(
        [
            finding("plot-without-stems", "plots.csv", "plot P002 has no stems", row=3, plot="P002"),
            finding("column-unknown", "trees.csv", "the column sweep is not used", column="sweep"),
        ]
    )
    settings = Settings.model_validate(
        {"survey": {"title": "Made-up stand", "crs": _CRS}, "plots": {"design": "circle", "radius_m": 12.62}}
    )
    return Stand(
        settings=settings,
        crs=_CRS,
        inputs=(InputFile("plots.csv", 812, "0" * 64), InputFile("trees.csv", 4120, "1" * 64)),
        compartments=compartments,
        plots=plots,
        trees=trees,
        tallied=tallied,
        instrument_log=_polars(INSTRUMENT_LOG_RESULTS, {"instrument": ["K1"], "kind": ["caliper"]}, rng),
        section_effect=_polars(SECTION_EFFECT_RESULTS, {"mean": ["arithmetic", "geometric"]}, rng),
        classes=classes,
        class_totals=class_totals,
        species_totals=species_totals,
        strata=strata,
        survey_total=total,
        error_parts=_polars(ERROR_PART_RESULTS, {"scope": ["survey"], "helps_most": ["more plots"]}, rng),
        model_based=_polars(
            MODEL_BASED_RESULTS, {"compartment": [names[-1]], "status": ["model-based"]}, rng
        ),
        grid_errors=_polars(GRID_ERROR_RESULTS, {"scope": ["survey"], "status": ["not on one grid"]}, rng),
        height_curves=_polars(HEIGHT_CURVE_RESULTS, {"species": ["ash", "all species"]}, rng),
        stand_density=_polars(
            STAND_DENSITY_RESULTS, {"scope": ["survey", "compartment"], "name": [None, "01"]}, rng
        ),
        volumes=_polars(VOLUME_RESULTS, {"scope": ["survey"], "species": ["all species"]}, rng),
        volume_equations=_polars(
            VOLUME_EQUATION_RESULTS, {"species": ["*"], "equation": ["v = 0.00004 · d^1.9 · h^1"]}, rng
        ),
        class_sums=class_sums,
        species_sums=species_sums,
        structure=structure,
        check_differences=differences,
        check_summary=summary,
        band_confusion=confusion,
        findings=findings,
        ledger=ledger_frame([LedgerEntry("trees.csv", "trees", 42, 40, (("dead", 2),))]),
    )
