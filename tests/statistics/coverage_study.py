"""How often the limits hold: samples from populations whose truth is known, through the project's own estimates.

    python -m tests.statistics.coverage_study            # the table of docs/methods.md, 10 000 samples a cell
    python -m tests.statistics.coverage_study t          # the same with another kind of interval

A population is 20 000 circular plots dropped anywhere on 200 m × 200 m that is joined at its edges, so that no edge
rule is needed; the truth is the mean over these plots. Plots of a sample are drawn from them at random. The longleaf
pines are those of tests/data; the other stands are invented.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import polars as pl
from scipy.spatial import KDTree

from plotmap.stand.domains import estimate_domains, unit_sums
from plotmap.stand.limits import Limits
from plotmap.statistics import IntervalKind
from tests.longleaf_survey import SIDE_M, longleaf_trees

SEED = 19_360_437
FULL = 10_000
"""Samples of each cell of the table in docs/methods.md."""
SIZES = (5, 10, 30)
CONFIDENCE = 0.95
COLUMNS = (
    "basal area",
    "stems",
    "basal area, ratio",
    "stems, ratio",
    "common class",
    "rare class",
    "rare class, basal area",
)
"""Estimates of the table. Ratio: plots of 40, 70 and 100 % of the area in one sample, else all are equal."""
_POOL = 20_000
_OTHER, _COMMON, _RARE = 0, 1, 2
_Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Population:
    """Plots to draw from.

    Attributes
    ----------
    weight_ha : numpy.ndarray of float, shape (20000,)
        Area of each plot.
    stems, basal_area_m2 : numpy.ndarray of float, shape (20000, 3)
        Sums on each plot by class: others, common, rare.
    """

    weight_ha: _Floats
    stems: _Floats
    basal_area_m2: _Floats


def stands() -> dict[str, tuple[_Floats, _Floats, float]]:
    """Return places (m), diameters (cm) and plot area (m²) of each stand."""
    rng = np.random.default_rng(SEED)
    pines = longleaf_trees()
    places, dbh = pines[["x_m", "y_m"]].to_numpy(float), pines["dbh_cm"].to_numpy(float)
    per_clump = rng.poisson(35, 48)
    clumps = np.repeat(rng.uniform(0, SIDE_M, (48, 2)), per_clump, axis=0)
    clumped = (clumps + rng.normal(0, 6, clumps.shape)) % SIDE_M
    half = rng.uniform(0, SIDE_M, (1400, 2)) * [0.5, 1.0]
    sizes = [8 + 18 * rng.weibull(1.8, len(stand)) for stand in (clumped, half)]
    return {
        "longleaf pines, 0.1 ha": (places, dbh, 1000.0),
        "longleaf pines, 0.03 ha": (places, dbh, 300.0),
        "clumped, 0.05 ha": (clumped, sizes[0], 500.0),
        "half empty, 0.05 ha": (half, sizes[1], 500.0),
    }


def population(places: _Floats, dbh_cm: _Floats, area_m2: float, *, unequal: bool) -> Population:
    """Drop the plots of a population. Rare are the thickest 1 % of the stems, common three tenths of them."""
    rng = np.random.default_rng([SEED, int(area_m2), unequal])
    share = rng.choice([0.4, 0.7, 1.0], _POOL, p=[0.2, 0.3, 0.5]) if unequal else np.ones(_POOL)
    centres, area = rng.uniform(0, SIDE_M, (_POOL, 2)), area_m2 * share
    found = KDTree(places % SIDE_M, boxsize=SIDE_M).query_ball_point(centres, np.sqrt(area / math.pi))
    held = np.array([len(stems) for stems in found])
    stem = np.concatenate([np.asarray(stems, dtype=int) for stems in found])
    low, high, thick = np.quantile(dbh_cm, [0.3, 0.6, 0.99])
    kind = np.where(dbh_cm >= thick, _RARE, np.where((dbh_cm >= low) & (dbh_cm < high), _COMMON, _OTHER))
    cell = np.repeat(np.arange(_POOL), held) * 3 + kind[stem]
    size = 3 * _POOL
    stems = np.bincount(cell, minlength=size).reshape(_POOL, 3).astype(float)
    basal_area = np.bincount(cell, math.pi / 40_000 * dbh_cm[stem] ** 2, size).reshape(_POOL, 3)
    return Population(area / 10_000, stems, basal_area)


def coverages(
    stand: tuple[_Floats, _Floats, float],
    n: int,
    samples: int,
    kind: IntervalKind = IntervalKind.AUTO,
    *,
    narrowed: float = 1.0,
) -> dict[str, float]:
    """Return the share of samples of n plots whose limits hold the truth, by the estimate of `COLUMNS`.

    `narrowed` draws both limits towards the estimate: 0.5 halves the interval, for tests of this study.
    """
    found: dict[str, float] = {}
    for unequal in (False, True):
        plots = population(*stand, unequal=unequal)
        units, cells = _sampled(plots, n, samples)
        whole = estimate_domains(cells, units, [], Limits(CONFIDENCE, kind))
        hectares = plots.weight_ha.sum()
        tail = ", ratio" if unequal else ""
        truths = {"stems": plots.stems.sum(), "basal area": plots.basal_area_m2.sum()}
        for name, truth in truths.items():
            found[name + tail] = _share_held(whole, name, truth / hectares, samples, units, narrowed)
        if unequal:
            break
        classes = estimate_domains(cells, units, ["class_index"], Limits(CONFIDENCE, kind))
        for index, name in ((_COMMON, "common class"), (_RARE, "rare class")):
            rows = classes.filter(pl.col("class_index") == index)
            truth = plots.stems[:, index].sum() / hectares
            found[name] = _share_held(rows, "stems", truth, samples, units, narrowed)
        truth = plots.basal_area_m2[:, _RARE].sum() / hectares
        found["rare class, basal area"] = _share_held(rows, "basal area", truth, samples, units, narrowed)
    return {name: found[name] for name in COLUMNS}


def _sampled(plots: Population, n: int, samples: int) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return units and cells of many samples, each as a compartment of its own."""
    rng = np.random.default_rng([SEED, n, samples])
    pick = rng.integers(0, _POOL, samples * n)
    name = np.arange(samples * n).astype(str)
    home = np.repeat(np.arange(samples), n).astype(str)
    area = plots.weight_ha[pick]
    units = pl.DataFrame(
        {"plot": name, "compartment": home, "weight_ha": area, "searched_ha": area, "full_count": False}
    )
    stems = plots.stems[pick]
    row, index = np.nonzero(stems)
    counted = stems[row, index]
    cells = pl.DataFrame(
        {
            "plot": name[row],
            "compartment": home[row],
            "class_index": index.astype(np.int32),
            "n_trees": counted,
            "stems": counted,
            "basal_area_m2": plots.basal_area_m2[pick][row, index],
        }
    )
    return units, cells


def _share_held(
    rows: pl.DataFrame, name: str, truth: float, samples: int, units: pl.DataFrame, narrowed: float
) -> float:
    """Return the share of samples whose limits hold the truth; samples without a row found nothing."""
    figure = {"stems": "stems_per_ha", "basal area": "basal_area_m2_per_ha"}[name]
    mean, low, high = (rows[figure + end].to_numpy() for end in ("", "_low", "_high"))
    low, high = mean + narrowed * (low - mean), mean + narrowed * (high - mean)
    slack = 1e-9 * truth
    held = int(((low <= truth + slack) & (truth <= high + slack)).sum())
    absent = unit_sums(units).join(rows, on="compartment", how="anti")["searched_ha"].to_numpy()
    if name == "stems":  # of basal area nothing is said where nothing was found: not held, and not missed
        return (held + int((truth <= narrowed * Limits(CONFIDENCE).not_found(absent)).sum())) / samples
    return held / (samples - len(absent))


def table(samples: int, kind: IntervalKind = IntervalKind.AUTO) -> str:
    """Return the coverages in %, as a table in Markdown."""
    lines = ["| stand and plot area | n | " + " | ".join(COLUMNS) + " |", "| --- " * (2 + len(COLUMNS)) + "|"]
    for name, stand in stands().items():
        for n in SIZES:
            found = coverages(stand, n, samples, kind)
            cells = " | ".join(f"{100 * share:.1f}" for share in found.values())
            lines.append(f"| {name} | {n} | {cells} |")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table(FULL, IntervalKind(sys.argv[1] if len(sys.argv) > 1 else "auto")))  # noqa: T201
