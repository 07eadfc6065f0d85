"""Measure plans: how good, how sure and how fast, on made-up maps.

``python -m tests.benchmarks.plans`` runs all cases for 60 s each at most; ``--seconds``, ``--gap``, ``--units 60``
and ``--cases apart green-up`` say otherwise. Each line is one plan: compartments, case, choices of single units,
seconds on the clock and of the processor, value of the greedy and improved start, value, bound, gap, status, and
``ok`` where the checker found no fault on the polygons. The figures belong to the machine and to what else it was
doing: say both when quoting them.

The maps: Voronoi cells of random points, 10 ha on average, of which two thirds can be thinned; five periods; removals
of 3 to 11 m² per hectare; the value of a square metre differs by unit and period, up to 10 % up or down. Limits: 12 %
of the area in each period, even flow of the basal area of ±10 % from period to period.
Cases:

``apart``      no two neighbours in the same period
``openings``   openings of 30 ha at most
``large``      openings of 80 ha at most
``blocks``     blocks of 10 to 30 ha, each with an entry cost
``green-up``   no two neighbours in the same or the next period; 20 % of the area
``unlimited``  openings of 30 ha at most over two periods, no other limit: only the rule of openings binds
"""

from __future__ import annotations

import argparse
import os
import time

import numpy as np
import shapely

from plotmap.optimise import (
    Blocks,
    Openings,
    Problem,
    Quantity,
    make_plan,
    pairs_of_polygons,
    plan_faults,
    problem_of,
)
from plotmap.spatial.adjacency import neighbours

CASES = {
    "apart": {"openings": Openings()},
    "openings": {"openings": Openings(30.0)},
    "large": {"openings": Openings(80.0)},
    "blocks": {"blocks": Blocks(10.0, 30.0, 40.0)},
    "green-up": {"openings": Openings(), "green_up_periods": 1},
    "unlimited": {"openings": Openings(30.0)},
}


def made_up(n: int, case: str, seed: int = 0) -> tuple[np.ndarray, Problem]:
    """Return the polygons and the problem of a case; `n` compartments, of which about two thirds are units."""
    rng = np.random.default_rng(seed)
    side_m = float(np.sqrt(n * 1e5))
    frame = shapely.box(0, 0, side_m, side_m)
    points = shapely.MultiPoint(rng.random((n, 2)) * side_m)
    cells = shapely.get_parts(shapely.voronoi_polygons(points, extend_to=frame, ordered=True))
    cells = shapely.intersection(cells, frame)[rng.random(n) < 2 / 3]
    area_ha = shapely.area(cells) / 1e4
    removal_m2 = area_ha * rng.uniform(3.0, 11.0, len(cells))
    value = removal_m2[:, None] * rng.uniform(0.9, 1.1, (len(cells), 5))
    limits = [
        Quantity("area_ha", area_ha, most=(0.2 if case == "green-up" else 0.12) * area_ha.sum()),
        Quantity("basal_area_m2", removal_m2, band=0.1),
    ]
    if case == "unlimited":
        value, limits = value[:, :2], []
    pairs = neighbours(cells)[["first", "second"]].to_numpy()
    return cells, problem_of(area_ha, value, pairs, limits, **CASES[case])


def line(n: int, case: str, *, gap: float, seconds: float) -> str:
    """Return what one plan came to."""
    cells, problem = made_up(n, case)
    clock, processor = time.perf_counter(), time.process_time()
    plan = make_plan(problem, gap=gap, seconds=seconds)
    wall_s, cpu_s = time.perf_counter() - clock, time.process_time() - processor
    faults = plan_faults(problem, plan, pairs_of_polygons(cells))
    said = faults[0] if faults else "ok"
    return (
        f"{n:>6} {case:<10}{int(problem.allowed.sum()):>8}{wall_s:>8.1f}{cpu_s:>8.1f}{plan.start_value:>12.1f}"
        f"{plan.value:>12.1f}{plan.bound:>12.1f}{100 * plan.gap:>9.3f} %  {plan.status.value:<22}  {said}"
    )


def main(arguments: list[str] | None = None) -> int:
    """Print a line for each plan; 1 if the checker found a fault in any."""
    parser = argparse.ArgumentParser(description="Measure plans on made-up maps.")
    parser.add_argument("--seconds", type=float, default=60.0, help="most for each plan")
    parser.add_argument("--gap", type=float, default=0.0001, help="end at this gap; 0.01 is 1 %%")
    parser.add_argument("--units", type=int, nargs="+", default=[60, 500, 2000], help="compartments of a map")
    parser.add_argument("--cases", nargs="+", choices=list(CASES), default=list(CASES))
    given = parser.parse_args(arguments)
    numbers = "".join(f"{words:>12}" for words in ("start", "value", "bound", "gap"))
    print(f"processors {os.cpu_count()}, load {os.getloadavg()[0]:.1f}")  # noqa: T201 - what it is for
    print(f"{'map':>6} {'case':<10}{'choices':>8}{'wall s':>8}{'CPU s':>8}{numbers}")  # noqa: T201
    wrong = 0
    for case in given.cases:
        for n in given.units:
            said = line(n, case, gap=given.gap, seconds=given.seconds)
            wrong += not said.endswith("  ok")
            print(said, flush=True)  # noqa: T201
    return int(wrong > 0)


if __name__ == "__main__":
    raise SystemExit(main())
