"""Fill in a planned survey with invented plots and stems: ``python sample_plots/invent_a_day.py FOLDER``.

For those who try docs/a_day.md without a forest. FOLDER must hold plots.csv as `plotmap layout` planned it. The
script writes states, day, crew and slopes into plots.csv, and trees.csv with stems. One plot has no trees, one was
not visited, and in trees.csv one plot is typed wrongly on purpose. The same plots give the same files.
"""

from __future__ import annotations

import csv
import random
import sys
from pathlib import Path

DAY = "2026-05-14"
CREWS = ("crew A", "crew B")
EMPTY, UNVISITED = "P03", "P07"
WRONG_PLOT, AS_TYPED = "P10", "P1O"
"""A letter O in place of a zero."""
SPECIES = ("oak", "oak", "oak", "birch", "birch", "wych elm")
STEM_COLUMNS = ("plot", "tree", "species", "d1_cm", "d2_cm", "instrument")
MIN_DBH_CM, SPAN_CM = 12.0, 38.0


def invent_day(folder: Path) -> int:
    """Fill in the plots and stems of a survey folder; return how many stems there are."""
    with (folder / "plots.csv").open(encoding="utf-8", newline="") as file:
        plots = list(csv.DictReader(file))
    stems: list[dict[str, object]] = []
    for number, plot in enumerate(plots):
        name = plot["plot"]
        chance = random.Random(number)
        plot["state"] = {EMPTY: "empty", UNVISITED: "unvisited"}.get(name, "measured")
        plot["date"], plot["crew"] = DAY, CREWS[number % len(CREWS)]
        plot["slope_pct"] = str(5 * int(5 * chance.random()))
        if plot["state"] == "measured":
            stems += invented_stems(name, chance)
    row = next(place for place, stem in enumerate(stems) if stem["plot"] == WRONG_PLOT)
    stems[row]["plot"] = AS_TYPED
    write_table(folder / "plots.csv", plots)
    write_table(folder / "trees.csv", stems)
    return len(stems)


def invented_stems(plot: str, chance: random.Random) -> list[dict[str, object]]:
    """Return the stems of a plot: more thin ones than thick ones, two readings of each."""
    rows: list[dict[str, object]] = []
    for tree in range(1, 7 + int(9 * chance.random())):
        dbh_cm = MIN_DBH_CM + SPAN_CM * chance.random() * chance.random()
        species = SPECIES[int(len(SPECIES) * chance.random())]
        across_cm = dbh_cm * (0.97 + 0.06 * chance.random())
        cells = (plot, tree, species, f"{dbh_cm:.1f}", f"{across_cm:.1f}", "K1")
        rows.append(dict(zip(STEM_COLUMNS, cells, strict=True)))
    return rows


def write_table(path: Path, rows: list[dict[str, object]] | list[dict[str, str]]) -> None:
    """Write rows as CSV."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    survey = Path(sys.argv[1])
    n_stems = invent_day(survey)
    print(f"Invented {n_stems} stems in {survey / 'trees.csv'}, and the states of the plots in plots.csv.")
