"""Parity with R's package `survey`: figures of r_survey/make_figures.R, which is run again where R is there.

Data: an invented sample of 30 plots (r_survey/plots.csv), the longleaf pines (Platt, Evans & Rathbun 1988), and
Scheaffer, Mendenhall & Ott 1986, example 6.9. r_survey/README.md says where R and plotmap differ on purpose.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from plotmap.statistics import Design, DesignEstimate, mean, ratio, total

HERE = Path(__file__).parent / "r_survey"
LONGLEAF = Path(__file__).parents[1] / "data" / "longleaf.csv"
PLOTS = pl.read_csv(HERE / "plots.csv")
FIGURES = pl.read_csv(HERE / "figures.csv", schema_overrides={"df": pl.Float64})
SIZES = {"a": 120, "b": 60, "c": 140, "d": 80}
AREAS = [150.0, 90.0, 160.0]
NEAR = 1e-9


def _codes(column: pl.Series, names: list[str]) -> np.ndarray:
    """Return the place of each name among `names`."""
    return np.array([names.index(name) for name in column])


def _post(rows: pl.DataFrame, sizes: list[float]) -> dict[str, object]:
    """Return the post-strata of the plots."""
    names = ["p", "q", "r"]
    return {
        "post_strata": _codes(rows["post"], names),
        "post_stratum_sizes": sizes,
        "post_stratum_names": names,
    }


def _few() -> pl.DataFrame:
    """Return the plots, of stratum d the first one only."""
    return PLOTS.filter((pl.col("stratum") != "d") | (pl.col("stratum").cum_count().over("stratum") == 1))


def _design(name: str) -> tuple[pl.DataFrame, Design]:
    """Return the rows and the design that R calls by this name."""
    rows = _few() if name == "single unit, merged" else PLOTS
    n = len(rows)
    strata = {"strata": _codes(rows["stratum"], list(SIZES)), "stratum_names": list(SIZES)}
    sized = {**strata, "stratum_sizes": list(SIZES.values())}
    alike = {"strata": np.zeros(n, int)}
    weights = rows["weight"].to_numpy()
    clusters = rows["cluster"].to_numpy()
    whole = {**alike, "stratum_sizes": [70], "weights": np.full(n, 7.0), "clusters": clusters}
    made = {
        "simple": {**alike, "stratum_sizes": [400]},
        "weighted": {**alike, "weights": weights},
        "stratified": sized,
        "stratified, weights, no correction": {**strata, "weights": weights},
        "single unit, merged": {**sized, "single_unit": "merge", "merge_into": {"d": "c"}},
        "post-stratified": {**alike, "stratum_sizes": [400], **_post(rows, AREAS)},
        "post-stratified, sizes as weights": {
            **alike,
            "weights": rows["x"].to_numpy(),
            **_post(rows, [61.5, 40.25, 33.0]),
        },
        "stratified and post-stratified": {**sized, **_post(rows, AREAS)},
        "clusters": whole,
        "clusters in strata": {
            "strata": _codes(rows["half"], ["e", "w"]),
            "stratum_names": ["e", "w"],
            "weights": weights,
            "clusters": clusters,
        },
        "clusters, post-stratified": {**whole, **_post(rows, AREAS)},
    }
    return rows, Design(**made[name])


def _compare(found: DesignEstimate, name: str, statistic: str, domains: list[str]) -> None:
    """Assert that estimates and errors of all domains are R's."""
    rows = FIGURES.filter((pl.col("design") == name) & (pl.col("statistic") == statistic))
    for place, domain in enumerate(domains):
        figures = rows.filter(pl.col("domain") == domain).row(0, named=True)
        assert found.value[place] == pytest.approx(figures["value"], rel=NEAR), (name, statistic, domain)
        assert found.se[place] == pytest.approx(figures["se"], rel=NEAR), (name, statistic, domain)


NAMES = [
    "simple",
    "weighted",
    "stratified",
    "stratified, weights, no correction",
    "single unit, merged",
    "post-stratified",
    "post-stratified, sizes as weights",
    "stratified and post-stratified",
    "clusters",
    "clusters in strata",
    "clusters, post-stratified",
]


@pytest.mark.parametrize("name", NAMES)
def test_means_totals_and_ratios_of_a_design_and_its_domains_are_those_of_r(name: str) -> None:
    """R `survey` 4.1.1: svymean, svytotal, svyratio, and of subsets; designs in r_survey/make_figures.R.

    With weights, strata, correction, unequal areas (ratio), a stratum with one plot, post-strata, whole clusters;
    domain far has plots in one stratum only.
    """
    rows, design = _design(name)
    y, x = rows["y"].to_numpy(), rows["x"].to_numpy()
    domains = ["north", "south", "far"]
    place = _codes(rows["domain"], domains)
    _compare(mean(design, y), name, "mean", [""])
    _compare(total(design, y), name, "total", [""])
    _compare(ratio(design, y, x), name, "ratio", [""])
    _compare(mean(design, y, place, 3), name, "mean", domains)
    _compare(total(design, y, place, 3), name, "total", domains)
    _compare(ratio(design, y, x, place, 3), name, "ratio", domains)


@pytest.mark.parametrize("name", ["simple", "weighted", "post-stratified", "clusters", "clusters in strata"])
def test_degrees_of_freedom_with_clusters_or_in_one_stratum_are_those_of_r(name: str) -> None:
    """R `survey` 4.1.1, degf: clusters less strata; our strata take Satterthwaite's instead."""
    rows, design = _design(name)
    figures = FIGURES.filter((pl.col("design") == name) & (pl.col("statistic") == "total"))
    assert total(design, rows["y"].to_numpy()).df[0] == pytest.approx(figures["df"][0], rel=NEAR)


def test_quadrats_of_the_longleaf_pines_are_those_of_r() -> None:
    """R `survey` 4.1.1 on quadrats of 50 m; stratum a is the column x < 50, as in test_statistics.py."""
    x, y, dbh = np.loadtxt(LONGLEAF, delimiter=",", skiprows=1).T
    quadrat = (4 * np.minimum(y // 50, 3) + np.minimum(x // 50, 3)).astype(int)
    taken = np.array([0, 8, 5, 7, 10, 13, 15])
    g = np.bincount(quadrat, np.pi / 40_000 * dbh**2, 16)[taken] / 0.25
    design = Design([0, 0, 1, 1, 1, 1, 1], ["a", "b"], stratum_sizes=[4, 12])
    place = np.array([0, 1, 0, 0, 1, 1, 1])
    for statistic, made in (("mean", mean), ("total", total)):
        _compare(made(design, g), "longleaf", statistic, [""])
        _compare(made(design, g, place, 2), "longleaf", statistic, ["north", "south"])


def test_the_published_ratio_of_scheaffer_is_that_of_r() -> None:
    """Scheaffer, Mendenhall & Ott 1986, example 6.9: r 1.3076923; standard error of the total 192.2479."""
    x = [12, 30, 24, 24, 18, 30, 12, 6, 36, 42]
    y = [18, 42, 24, 36, 24, 36, 14, 10, 48, 54]
    found = ratio(Design(np.zeros(10, int), stratum_sizes=[200]), y, x)
    _compare(found, "scheaffer 6.9", "ratio", [""])
    assert found.se[0] * 4200 == pytest.approx(192.2479, abs=5e-5)
    assert found.df[0] == pytest.approx(9)


def test_a_domain_without_units_is_missing_where_r_says_zero() -> None:
    """R `survey` 4.1.1 says 0 with an error of 0; ours is missing on purpose. What no unit has is 0 in both."""
    said = FIGURES.filter(pl.col("domain") == "nowhere")
    assert said["value"].to_list() == said["se"].to_list() == [0.0, 0.0]
    rows, design = _design("stratified")
    for made in (mean, total):
        found = made(design, rows["y"].to_numpy(), np.zeros(len(rows), int), 2)
        assert np.isnan([found.value[1], found.se[1], found.df[1]]).all()
        assert found.n_units.tolist() == [30, 0]
    _compare(total(design, np.zeros(30)), "stratified, all zero", "total", [""])


def _has_survey() -> bool:
    """Say whether R and its package are on this machine."""
    if shutil.which("Rscript") is None:
        return False
    asked = ["Rscript", "-e", 'quit(status = !requireNamespace("survey", quietly = TRUE))']
    return subprocess.run(asked, check=False, capture_output=True).returncode == 0


def test_the_script_still_makes_the_figures(tmp_path: Path) -> None:
    """The figures in the repository are what R writes: the script is run again where R is there."""
    if not _has_survey():
        pytest.skip("Rscript with the package survey is not on this machine")
    out = tmp_path / "figures.csv"
    call = ["Rscript", str(HERE / "make_figures.R"), str(HERE / "plots.csv"), str(LONGLEAF), str(out)]
    ended = subprocess.run(call, check=False, capture_output=True, text=True)
    assert ended.returncode == 0, ended.stderr
    anew = pl.read_csv(out, schema_overrides={"df": pl.Float64})
    assert anew.select("design", "statistic", "domain").equals(
        FIGURES.select("design", "statistic", "domain")
    )
    for column in ("value", "se", "df"):
        np.testing.assert_allclose(anew[column], FIGURES[column], rtol=NEAR, atol=0)


def test_the_published_figures_of_the_stratified_school_sample(tmp_path: Path) -> None:
    """R `survey`, data api, apistrat: svymean, svytotal and svyratio by its weights, 662.2873632 (9.4089408).

    The data stay in R and are read from it at test time. Its weights are 4421 / 100, 755 / 50 and 1018 / 50, rounded.
    """
    if not _has_survey():
        pytest.skip("Rscript with the package survey is not on this machine")
    out = tmp_path / "schools.csv"
    said = 'suppressMessages(library(survey)); data(api); write.csv(apistrat, commandArgs(TRUE), na = "")'
    subprocess.run(["Rscript", "-e", said, str(out)], check=True, capture_output=True)
    schools = pl.read_csv(out, infer_schema_length=None)
    sizes = {"E": 4421, "H": 755, "M": 1018}
    strata, weights = _codes(schools["stype"], list(sizes)), schools["pw"].to_numpy()
    design = Design(strata, list(sizes), weights, stratum_sizes=list(sizes.values()))
    enrolled = schools["enroll"].to_numpy()
    for found, value, error in (
        (mean(design, schools["api00"].to_numpy()), (662.2873632, 5e-8), (9.4089408, 5e-8)),
        (total(design, enrolled), (3687177.532, 5e-4), (114641.72, 5e-3)),
        (
            ratio(design, schools["api.stu"].to_numpy(), enrolled),
            (0.8369568869, 5e-11),
            (0.0077571032, 5e-11),
        ),
    ):
        assert found.value[0] == pytest.approx(value[0], abs=value[1])
        assert found.se[0] == pytest.approx(error[0], abs=error[1])
