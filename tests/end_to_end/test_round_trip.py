"""From the layout to the figures and back to the truth: plots are planned, "visited" in a census, and computed.

Data: the 584 mapped longleaf pines on 200 m × 200 m (Platt, Evans & Rathbun 1988, R package spatstat.data). They are
a census, so the truth is known: 12.109 m²/ha and 146 stems per hectare. A crew is simulated that goes to every
planned place and tallies what stands in the circle, at the edge of the stand by mirage.

The design is ``method = "random"``: 10 to 15 places, each even over the stand and drawn by itself. For this design
variance and interval have a theory (Cochran 1977, ch. 2). The interval of a systematic grid, or of the balanced
method, is not exact: it is computed as if places were random, and most often, not always, it is too wide (Cochran
1977, ch. 8). Nothing is claimed for those here.
"""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import polars as pl
import pyogrio
import pytest
from scipy import stats

from plotmap.layout import plan_layout
from plotmap.plots import compute_plots
from plotmap.stand import compartment_figures
from plotmap.stems import measure_stems
from tests.end_to_end.command import plotmap
from tests.folder_example import settings_text
from tests.layout_example import SOUTH_M, WEST_M, at, ground_example
from tests.longleaf_survey import SIDE_M, longleaf_trees
from tests.survey_example import survey_example

TRUTH = {"basal_area_m2_per_ha": 12.109384, "stems_per_ha": 146.0}
"""Of all 584 pines on 4 ha."""
RADIUS_M = 12.62
PLOTS = {"design": "circle", "radius_m": RADIUS_M, "edge": "mirage"}
SIZES = (10, 11, 12, 13, 14, 15)
STANDS = 100
BATCHES = 24
LAYOUTS = BATCHES * STANDS
CONFIDENCE = 0.95
TOLERANCE = 0.015
"""What the interval may be off its confidence: samples this small of a patchy stand have no exact one."""
CHANCE = 0.0005
"""Of each side, that an interval that is off by no more than the tolerance fails all the same."""
DAY = dt.date(2026, 5, 14)


def crew(x_m: np.ndarray, y_m: np.ndarray) -> np.ndarray:
    """Return how often each pine is tallied from each place, shape (places, pines): by the circle and its images.

    Reflection about the edges and the corner makes every pine stand for its whole circle (geometry).
    """
    trees = longleaf_trees()

    def squared(places: np.ndarray, stems: pd.Series) -> list[np.ndarray]:
        images = (places, -places, 2 * SIDE_M - places)
        return [(image[:, None] - stems.to_numpy()[None, :]) ** 2 for image in images]

    across, up = squared(x_m, trees["x_m"]), squared(y_m, trees["y_m"])
    return np.sum([dx + dy <= RADIUS_M**2 for dx in across for dy in up], axis=0)


def tallied(plots: Sequence[str], times: np.ndarray) -> pd.DataFrame:
    """Return the rows that the crew writes: a stem each, with ``times``."""
    trees = longleaf_trees()
    plot, tree = np.nonzero(times)
    return pd.DataFrame(
        {
            "plot": np.array(plots, dtype=object)[plot],
            "tree": trees["tree"].to_numpy()[tree],
            "species": "longleaf pine",
            "d1_cm": trees["dbh_cm"].to_numpy()[tree],
            "times": times[plot, tree],
        }
    )


def states(times: np.ndarray) -> list[str]:
    """Return the state of each plot."""
    return ["measured" if n else "empty" for n in times.sum(axis=1)]


# --- once through the files and commands ------------------------------------------------------------------


@pytest.fixture(scope="module")
def survey(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Take a folder the whole way: layout, field sheets and workbook, visited, filled in, run.

    The seed is one by which circles hold stems twice at the edge and one circle holds none; no more was asked of it.
    """
    folder = tmp_path_factory.mktemp("longleaf") / "survey"
    folder.mkdir()
    settings = settings_text(
        survey='title = "Longleaf pines"',
        plots=f'design = "circle"\nradius_m = {RADIUS_M}\nedge = "mirage"',
        layout='method = "random"\nseed = 12\nn_plots = 15\nplots_per_day = 5',
    )
    (folder / "survey.toml").write_text(settings, "utf-8")
    outlines = ground_example({}, {"A": at(0, 0, SIDE_M, SIDE_M)}).compartments[["compartment", "geometry"]]
    pyogrio.write_dataframe(outlines, folder / "compartments.gpkg", layer="compartments")
    done = plotmap("layout", folder)
    assert (done.code, done.err) == (0, "")
    shutil.copy(folder / "layout" / "planned.csv", folder / "plots.csv")
    book = folder.parent / "typed.xlsx"
    done = plotmap("fieldsheets", folder, "--workbook", book)
    assert (done.code, done.err) == (0, "")
    assert "15 field sheets:" in done.out
    fill(book)
    (folder / "plots.csv").unlink()
    shutil.move(book, folder / "survey.xlsx")
    done = plotmap("run", folder)
    assert (done.code, done.err) == (0, ""), done.out
    return folder


def fill(path: Path) -> None:
    """Type what a crew found at the places that stand in the workbook."""
    book = openpyxl.load_workbook(path)
    sheet = book["plots"]
    at_column = {cell.value: cell.column for cell in sheet[1]}
    rows = range(2, 2 + 15)

    def column(name: str) -> list[object]:
        return [sheet.cell(row, at_column[name]).value for row in rows]

    assert column("state") == ["unvisited"] * 15
    times = crew(
        np.array(column("easting"), dtype=float) - WEST_M,
        np.array(column("northing"), dtype=float) - SOUTH_M,
    )
    for row, state in zip(rows, states(times), strict=True):
        sheet.cell(row, at_column["state"], state)
        sheet.cell(row, at_column["date"], DAY)
    stems = book["trees"]
    at_column = {cell.value: cell.column for cell in stems[1]}
    found = tallied([str(name) for name in column("plot")], times)
    for row, stem in enumerate(found.to_dict("records"), start=2):
        for name, cell in stem.items():
            stems.cell(row, at_column[name], cell)
    book.save(path)


def table(survey: Path, name: str) -> pd.DataFrame:
    """Return a table of the results."""
    return pd.read_csv(survey / "results" / "tables" / f"{name}.csv", dtype={"plot": str, "tree": str})


def test_the_plots_of_the_results_are_the_circles_of_the_census(survey: Path) -> None:
    planned = pd.read_csv(survey / "layout" / "planned.csv").set_index("plot")
    results = table(survey, "plots").set_index("plot")
    assert sorted(results.index) == sorted(planned.index)
    times = crew(planned["easting"].to_numpy() - WEST_M, planned["northing"].to_numpy() - SOUTH_M)
    area_ha = np.pi * RADIUS_M**2 / 10_000
    sections_m2 = np.pi / 40_000 * longleaf_trees()["dbh_cm"].to_numpy() ** 2
    expected = results.loc[planned.index]
    np.testing.assert_allclose(expected["stems_per_ha"], times.sum(axis=1) / area_ha, rtol=1e-6)
    np.testing.assert_allclose(expected["basal_area_m2_per_ha"], times @ sections_m2 / area_ha, rtol=1e-6)
    assert (times > 1).any(), "no circle reaches over the edge: the mirage is not tried"


def test_every_stem_typed_is_used(survey: Path) -> None:
    ledger = pd.read_csv(survey / "results" / "ledger.csv")
    trees = ledger[ledger["table"] == "trees"]
    counts = dict(zip(trees["outcome"], trees["rows"], strict=True))
    typed = openpyxl.load_workbook(survey / "survey.xlsx")["trees"]
    rows = sum(row[0] is not None for row in typed.iter_rows(min_row=2, values_only=True))
    assert rows > 50
    assert counts["read"] == counts["used"] == rows


@pytest.mark.parametrize("figure", TRUTH)
def test_the_truth_is_inside_the_interval_of_this_one_layout(survey: Path, figure: str) -> None:
    row = table(survey, "compartments").iloc[0]
    plots = table(survey, "plots")[figure]
    assert row[figure] == pytest.approx(plots.mean(), rel=1e-6)
    assert row[f"{figure}_se"] == pytest.approx(plots.std() / np.sqrt(15), rel=1e-6)
    assert row[f"{figure}_low"] <= TRUTH[figure] <= row[f"{figure}_high"]


# --- many times, without files ----------------------------------------------------------------------------


def many_layouts(seed: int, n_plots: int) -> pd.DataFrame:
    """Return the figures of a hundred layouts: as many copies of the stand side by side, each a stratum of its own.

    Every stratum draws its places by itself from the seed, so each is a layout of its own. The stages are those of
    `plotmap run`: layout, stems, plots, compartments.
    """
    corners = {f"{number:03d}": (SIDE_M * (number % 10), SIDE_M * (number // 10)) for number in range(STANDS)}
    squares = {name: at(x, y, x + SIDE_M, y + SIDE_M) for name, (x, y) in corners.items()}
    rules = {"method": "random", "n_plots": n_plots * STANDS, "seed": seed}
    ground = ground_example(
        rules, squares, strata=list(squares), plots=PLOTS, survey={"confidence": CONFIDENCE}
    )
    planned = plan_layout(ground).planned_plots
    assert (planned.groupby("compartment").size() == n_plots).all()
    south_west = np.array([corners[name] for name in planned["compartment"]])
    times = crew(
        planned["easting"].to_numpy() - WEST_M - south_west[:, 0],
        planned["northing"].to_numpy() - SOUTH_M - south_west[:, 1],
    )
    trees = tallied(planned["plot"].tolist(), times)
    survey = survey_example(
        trees=pl.from_pandas(trees.assign(tree=trees["tree"].astype(str))),
        plots={
            **{name: planned[name].tolist() for name in ("plot", "easting", "northing")},
            "state": states(times),
        },
        settings=ground.settings,
    )
    located = survey.plots.assign(located_in=planned["compartment"].to_numpy())
    survey = replace(survey, compartments=ground.compartments, plots=located)
    return pd.DataFrame(compartment_figures(survey, compute_plots(survey, measure_stems(survey))))


@pytest.fixture(scope="module")
def figures() -> pd.DataFrame:
    """Figures of all layouts, a row each."""
    drawn = [many_layouts(seed, SIZES[seed % len(SIZES)]) for seed in range(BATCHES)]
    found = pd.concat(drawn, ignore_index=True)
    assert len(found) == LAYOUTS
    return found


def holds(figures: pd.DataFrame, figure: str, width: float = 1.0) -> int:
    """Return how many intervals hold the truth, each made wider by a factor about its estimate."""
    middle = figures[figure]
    low = middle + width * (figures[f"{figure}_low"] - middle)
    high = middle + width * (figures[f"{figure}_high"] - middle)
    return int(((low <= TRUTH[figure]) & (high >= TRUTH[figure])).sum())


def bounds() -> tuple[float, float]:
    """Return the fewest and the most intervals that may hold the truth, by the binomial distribution."""
    fewest = stats.binom.ppf(CHANCE, LAYOUTS, CONFIDENCE - TOLERANCE)
    most = stats.binom.isf(CHANCE, LAYOUTS, CONFIDENCE + TOLERANCE)
    return float(fewest), float(most)


@pytest.mark.slow
@pytest.mark.parametrize("figure", TRUTH)
def test_the_truth_is_inside_the_interval_as_often_as_it_should_be(
    figures: pd.DataFrame, figure: str
) -> None:
    """Binomial distribution, from two points under the confidence to two over it."""
    fewest, most = bounds()
    assert fewest <= holds(figures, figure) <= most


@pytest.mark.slow
@pytest.mark.parametrize("figure", TRUTH)
@pytest.mark.parametrize("width", [0.75, 1.4])
def test_intervals_too_narrow_or_too_wide_would_be_noticed(
    figures: pd.DataFrame, figure: str, width: float
) -> None:
    """Intervals a quarter narrower, or two fifths wider, are outside the bounds of the test above."""
    fewest, most = bounds()
    held = holds(figures, figure, width)
    assert held < fewest if width < 1 else held > most


@pytest.mark.slow
@pytest.mark.parametrize("figure", TRUTH)
def test_estimates_lie_evenly_about_the_truth_and_spread_as_their_errors_say(
    figures: pd.DataFrame, figure: str
) -> None:
    """A random layout with mirage is without bias, and s²/n without bias for its variance (Cochran 1977, ch. 2)."""
    for n, group in figures.groupby("n_plots"):
        off = group[figure].mean() - TRUTH[figure]
        assert abs(off) < 4 * group[figure].std() / np.sqrt(len(group)), n
        said = (group[f"{figure}_se"] ** 2).mean()
        # four standard errors of a variance of 400 estimates, √(2 / 400), and as much again for what is skewed
        assert said / group[figure].var() == pytest.approx(1, abs=0.35), n
