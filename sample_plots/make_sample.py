"""Make the sample survey anew: ``python sample_plots/make_sample.py``. Everything in it is invented.

The same bytes come out every time: one seeded generator, fixed dates, rounded figures.
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import geopandas as gpd
import numpy as np
import sample_checks
import shapely
from sample_map import ORIGIN_M, draw_compartments, geodesic_ha, write_layer
from sample_stands import (
    COMPARTMENT_NAMES,
    PAINTED_BANDS,
    SPECIES,
    STAND_TYPES,
    STRATA,
    TAPE_CLIMBER_SPECIES,
    StandType,
)
from shapely.geometry import Point

HERE = Path(__file__).parent
SEED = 20260594
"""Chosen among two hundred so that one compartment has a single plot and one has none."""
RADIUS_M = 12.62
SPACING_M = 150.0
MIN_DBH_CM = 10.0
FIRST_DAY = dt.date(2026, 4, 20)
PLOTS_A_DAY = 2
EMPTY_PLOTS = 4

CHECKS = (
    # instrument, kind, date, zero_mm, bar_mm, bar_reading_mm
    ("K1", "caliper", dt.date(2026, 4, 20), 4.0, None, None),
    ("K1", "caliper", dt.date(2026, 5, 4), 1.5, None, None),
    ("K2", "caliper", dt.date(2026, 4, 20), 0.5, 300.0, 303.5),
    ("K2", "caliper", dt.date(2026, 5, 11), 0.5, 300.0, 304.0),
    ("T1", "tape", dt.date(2026, 4, 20), 0.0, None, None),
    ("T1", "tape", dt.date(2026, 5, 11), 2.0, None, None),
    sample_checks.CHECK,
)
"""What the instruments were found to be on their check days; readings are made from it."""
CREW_INSTRUMENT = {"crew A": "K1", "crew B": "K2", "crew C": "T1", "crew D": None}


@dataclass
class Sheets:
    """Rows of the tables as they grow, cells in the order of the headings."""

    plots: list[tuple[object, ...]] = field(default_factory=list)
    trees: list[tuple[object, ...]] = field(default_factory=list)
    tallies: list[tuple[object, ...]] = field(default_factory=list)
    grown: dict[str, Stems] = field(default_factory=dict)


@dataclass(frozen=True)
class PlannedPlot:
    """A plot of the grid with its compartment, crew and day."""

    name: str
    centre: Point
    compartment: str
    crew: str
    day: dt.date
    slope_pct: int


def main() -> None:
    """Write every file of the sample survey."""
    rng = np.random.default_rng(SEED)
    compartments = draw_compartments(rng)
    types = describe(compartments, rng)
    plots = plan_plots(compartments, types, rng)
    sheets = measure_all(plots, compartments, types, rng)
    write_layer(compartments, HERE / "compartments.gpkg", "compartments")
    heading = ("plot", "easting", "northing", "compartment", "state", "date", "crew", "slope_pct")
    write_csv("plots.csv", heading, sheets.plots)
    write_csv(
        "trees.csv",
        ("plot", "tree", "Sp.", "condition", "d1_cm", "d2_cm", "d3_cm", "girth_cm", "instrument", "bark_mm",
         "climber_mm", "height_m", "azimuth_deg", "distance_m", "remark"),
        sheets.trees,
    )  # fmt: skip
    write_csv("tallies.csv", ("plot", "species", "class", "count"), sheets.tallies)
    write_csv(
        "instruments.csv", ("instrument", "kind", "date", "zero_mm", "bar_mm", "bar_reading_mm"), CHECKS
    )
    again = sample_checks.measure_again(plots, sheets.grown, MIN_DBH_CM - 0.3)
    write_csv("check_trees.csv", sample_checks.HEADING, again)
    heading = ("species", "name", "local_name", "group", "bark_factor", "form_factor", "sensitive")
    write_csv("species.csv", heading, SPECIES)
    print(f"{len(compartments)} compartments, {len(sheets.plots)} plots, {len(sheets.trees)} stems measured")


def write_csv(name: str, heading: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write one table, commas between the cells and blank cells for what is missing."""
    with (HERE / name).open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(heading)
        writer.writerows(["" if cell is None else cell for cell in row] for row in rows)


def describe(compartments: gpd.GeoDataFrame, rng: np.random.Generator) -> dict[str, StandType]:
    """Add name, stratum and register area to the compartments; return the stand of each."""
    northing = compartments.geometry.centroid.y.to_numpy() - ORIGIN_M[1]
    bands = np.digitize(northing, [600.0, 1200.0])
    compartments.insert(1, "name", list(COMPARTMENT_NAMES))
    compartments.insert(2, "stratum", [STRATA[band] for band in bands])
    mapped = geodesic_ha(compartments)
    register = np.round(mapped * (1 + rng.normal(0.0, 0.008, len(mapped))), 1)
    register[8] = np.round(mapped[8] * 1.068, 1)  # the register was not changed when the road was widened
    compartments.insert(3, "area_ha", register)
    types: dict[str, StandType] = {}
    for band, stratum in enumerate(STRATA):
        members = compartments["compartment"].to_numpy()[bands == band]
        kinds = [kind for kind in STAND_TYPES if stratum in kind.strata]
        order = rng.permutation(len(members))
        types.update({members[place]: kinds[turn % len(kinds)] for turn, place in enumerate(order)})
    return types


def plan_plots(
    compartments: gpd.GeoDataFrame, types: dict[str, StandType], rng: np.random.Generator
) -> list[PlannedPlot]:
    """Lay the grid with a random start over the forest, give compartments to crews and days to plots."""
    start = rng.uniform(0.0, SPACING_M, 2)
    west, south, east, north = compartments.total_bounds
    eastings = np.arange(np.floor(west) + start[0], east, SPACING_M)
    northings = np.arange(np.floor(south) + start[1], north, SPACING_M)[::-1]
    grid = shapely.points(*(axis.ravel() for axis in np.meshgrid(eastings.round(1), northings.round(1))))
    pairs = compartments.sindex.query(grid, predicate="within")
    order = np.argsort(pairs[0], kind="stable")
    homes = compartments["compartment"].to_numpy()[pairs[1][order]]
    crews = share_out(homes, types)
    turn = dict.fromkeys(CREW_INSTRUMENT, 0)
    days: dict[int, dt.date] = {}
    for number in np.argsort(homes, kind="stable"):
        crew = crews[homes[number]]
        days[int(number)] = working_day(turn[crew] // PLOTS_A_DAY)
        turn[crew] += 1
    planned = []
    for number, home in enumerate(homes):
        steep = {"valley": 4.0, "mid-slope": 17.0, "fellside": 34.0}[types_stratum(compartments, home)]
        slope = int(np.clip(rng.gamma(6.0, steep / 6.0), 0, 75).round())
        name = f"{number + 1:03d}"
        point = grid[pairs[0][order][number]]
        planned.append(PlannedPlot(name, point, home, crews[home], days[number], slope))
    return planned


def types_stratum(compartments: gpd.GeoDataFrame, compartment: str) -> str:
    """Return the stratum of a compartment."""
    return str(compartments.set_index("compartment").at[compartment, "stratum"])


def share_out(homes: np.ndarray, types: dict[str, StandType]) -> dict[str, str]:
    """Give whole compartments to crews: dense young ones to the painters until they have 14 plots."""
    crews: dict[str, str] = {}
    painted, turn = 0, 0
    for home, n_plots in zip(*np.unique(homes, return_counts=True), strict=True):
        if types[home].painted and painted < 14:  # noqa: PLR2004
            crews[home] = "crew D"
            painted += int(n_plots)
        else:
            crews[home] = ("crew A", "crew B", "crew C")[turn % 3]
            turn += 1
    return crews


def working_day(number: int) -> dt.date:
    """Return the working day of that number, Mondays to Fridays from the first."""
    weeks, weekday = divmod(number, 5)
    return FIRST_DAY + dt.timedelta(weeks=weeks, days=weekday)


def measure_all(
    plots: list[PlannedPlot],
    compartments: gpd.GeoDataFrame,
    types: dict[str, StandType],
    rng: np.random.Generator,
) -> Sheets:
    """Grow the trees of every plot and write what the crews would have written."""
    shapes = dict(zip(compartments["compartment"], compartments.geometry, strict=True))
    states = choose_states(plots, types, rng)
    sheets = Sheets()
    for number, plot in enumerate(plots):
        state = states.get(number, "measured")
        stems = grow(plot, types[plot.compartment], shapes[plot.compartment], rng)
        if state == "measured":
            write_stems(sheets, plot, stems, rng)
            sheets.grown[plot.name] = stems
        seen = state != "unvisited"
        sheets.plots.append(
            (plot.name, f"{plot.centre.x:.1f}", f"{plot.centre.y:.1f}", plot.compartment, state,
             plot.day if seen else None, plot.crew if seen else None, plot.slope_pct)
        )  # fmt: skip
    return sheets


def choose_states(
    plots: list[PlannedPlot], types: dict[str, StandType], rng: np.random.Generator
) -> dict[int, str]:
    """Return the places of the empty, lost and unvisited plots: one a compartment, where stands have gaps."""
    homes = np.array([plot.compartment for plot in plots])
    names, counts = np.unique(homes, return_counts=True)
    sparse = [name for name, count in zip(names, counts, strict=True) if types[name].gaps and count > 3]  # noqa: PLR2004
    words = ["empty"] * EMPTY_PLOTS + ["lost", "unvisited"]
    chosen = rng.choice(sparse, len(words), replace=False)
    return {
        int(rng.choice(np.flatnonzero(homes == home))): word for home, word in zip(chosen, words, strict=True)
    }


@dataclass(frozen=True)
class Stems:
    """The true stems of a plot, clockwise from north."""

    dbh_cm: np.ndarray
    species: np.ndarray
    dead: np.ndarray
    azimuth_deg: np.ndarray
    distance_m: np.ndarray


def grow(
    plot: PlannedPlot, kind: StandType, compartment: shapely.Geometry, rng: np.random.Generator
) -> Stems:
    """Return the stems inside the circle and inside the compartment (the crews leave the others out)."""
    expected = kind.stems_per_ha * np.pi * RADIUS_M**2 / 10_000 * rng.lognormal(0.0, kind.spread)
    count = max(2, round(expected + 0.5 * np.sqrt(expected) * rng.normal()))
    shape = kind.weibull_shape
    dbh = 8.5 + kind.weibull_scale_cm() * rng.lognormal(0.0, 0.05) * rng.weibull(shape, count)
    if plot.crew == "crew D":
        dbh = np.clip(dbh, 8.5, 39.5)
    distance, azimuth = scatter(count, rng)
    east = plot.centre.x + distance * np.sin(np.radians(azimuth))
    north = plot.centre.y + distance * np.cos(np.radians(azimuth))
    names = np.array([name for name, _ in kind.mixture])
    species = rng.choice(names, count, p=[share for _, share in kind.mixture])
    dead = rng.random(count) < np.where(dbh < np.median(dbh), kind.dead_share * 2, kind.dead_share / 3)
    keep = shapely.contains_xy(compartment, east, north)
    order = np.flatnonzero(keep)[np.argsort(azimuth[keep], kind="stable")]
    return Stems(dbh[order], species[order], dead[order], azimuth[order], distance[order])


def scatter(count: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return distances in m and azimuths in degrees, evenly over the circle, no two stems within 0.8 m."""
    placed = np.empty((0, 2))
    while len(placed) < count:
        distance = (RADIUS_M - 0.05) * np.sqrt(rng.random())
        azimuth = rng.uniform(0.0, 360.0)
        spot = np.array([distance * np.sin(np.radians(azimuth)), distance * np.cos(np.radians(azimuth))])
        if not len(placed) or np.hypot(*(placed - spot).T).min() > 0.8:  # noqa: PLR2004
            placed = np.vstack((placed, spot))
    azimuth = np.degrees(np.arctan2(placed[:, 0], placed[:, 1])) % 360.0
    return np.hypot(*placed.T), azimuth


def write_stems(sheets: Sheets, plot: PlannedPlot, stems: Stems, rng: np.random.Generator) -> None:
    """Write the stems of one plot as its crew does."""
    if plot.crew == "crew D":
        write_tally(sheets, plot, stems)
        return
    instrument = CREW_INSTRUMENT[plot.crew]
    seen = np.flatnonzero(stems.dbh_cm >= MIN_DBH_CM - 0.3)  # crews measure when in doubt
    for tree, number in enumerate(seen, start=1):
        dbh, species = float(stems.dbh_cm[number]), str(stems.species[number])
        readings: list[str | None] = [None, None, None]
        girth = climber = bark = azimuth = distance = remark = None
        if plot.crew == "crew C":
            girth, climber = girth_reading(dbh, species, plot.day, rng)
            remark = "ivy" if climber else None
        else:
            readings = caliper_readings(dbh, str(instrument), plot.day, rng)
        if plot.crew == "crew B":
            azimuth, distance = f"{stems.azimuth_deg[number]:.0f}", f"{stems.distance_m[number]:.1f}"
            bark = round(0.35 * dbh * rng.normal(1.0, 0.1)) if rng.random() < 0.06 else None  # noqa: PLR2004
        dead = bool(stems.dead[number])
        height = f"{height_m(dbh) * rng.normal(1.0, 0.06):.1f}" if tree % 6 == 1 and not dead else None
        if plot.name == "030" and tree == 5:  # noqa: PLR2004
            readings, remark = oval(readings), "two stems grown together"
        sheets.trees.append(
            (plot.name, tree, species, "dead" if dead else "live", *readings, girth, instrument, bark, climber,
             height, azimuth, distance, remark)
        )  # fmt: skip


def write_tally(sheets: Sheets, plot: PlannedPlot, stems: Stems) -> None:
    """Write the live stems of one plot as counts by species and painted band."""
    live = ~stems.dead & (stems.dbh_cm >= MIN_DBH_CM)
    for species in sorted(set(stems.species[live])):
        sizes = stems.dbh_cm[live & (stems.species == species)]
        for name, low, high in PAINTED_BANDS:
            count = int(((sizes >= low) & (sizes < high)).sum())
            if count:
                sheets.tallies.append((plot.name, species, name, count))


def check_in_force(instrument: str, day: dt.date) -> tuple[float, float]:
    """Return zero in mm and gain of the last check up to that day."""
    found = max((check for check in CHECKS if check[0] == instrument and check[2] <= day), key=lambda c: c[2])
    _, _, _, zero, bar, reading = found
    return zero, 1.0 if bar is None or reading is None else bar / (reading - zero)


def caliper_readings(
    dbh_cm: float, instrument: str, day: dt.date, rng: np.random.Generator
) -> list[str | None]:
    """Return one to three readings, the first two crosswise, with the instrument's own errors in them."""
    zero, gain = check_in_force(instrument, day)
    n_readings = 1 if dbh_cm < 16 else (3 if dbh_cm > 50 else 2)  # noqa: PLR2004
    stretch = 1 + abs(rng.normal(0.0, 0.02))
    axes = np.array([dbh_cm * stretch, dbh_cm * (2 - stretch), dbh_cm])[:n_readings]
    shown = axes / gain + zero / 10 + rng.normal(0.0, 0.08, n_readings)
    return [*(f"{value:.1f}" for value in shown), *[None] * (3 - n_readings)]


def girth_reading(
    dbh_cm: float, species: str, day: dt.date, rng: np.random.Generator
) -> tuple[str, int | None]:
    """Return the girth in cm to half a centimetre, and a climber's diameter in mm where the tape went over one."""
    zero, _ = check_in_force("T1", day)
    girth, climber = np.pi * dbh_cm, None
    if species in TAPE_CLIMBER_SPECIES and dbh_cm > 25 and rng.random() < 0.12:  # noqa: PLR2004
        climber = int(rng.integers(15, 46))
        girth = belt_cm(dbh_cm, climber / 10)
    return f"{round(2 * (girth + zero / 10)) / 2:.1f}", climber


def belt_cm(stem_cm: float, climber_cm: float) -> float:
    """Return the length of a belt round two touching circles of these diameters (geometry)."""
    turn = np.arcsin((stem_cm - climber_cm) / (stem_cm + climber_cm))
    round_stem = stem_cm / 2 * (np.pi + 2 * turn)
    round_climber = climber_cm / 2 * (np.pi - 2 * turn)
    return float(2 * np.sqrt(stem_cm * climber_cm) + round_stem + round_climber)


def height_m(dbh_cm: float) -> float:
    """Return a plausible height: a rising curve that levels off at 30 m."""
    return 1.3 + 28.7 * (1 - np.exp(-0.045 * dbh_cm)) ** 1.2


def oval(readings: list[str | None]) -> list[str | None]:
    """Return the readings of a very oval stem: the second a third longer than the first."""
    first = float(readings[0] or 0)
    return [readings[0], f"{1.36 * first:.1f}", None]


if __name__ == "__main__":
    main()
