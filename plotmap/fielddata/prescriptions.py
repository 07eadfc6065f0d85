"""Checks of the rules of thinning: whom they are for, whether they are complete, and whether they can be followed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import polars as pl

from plotmap.fielddata.spelling import nearest
from plotmap.model.field_tables_thinning import (
    BASAL_AREA,
    DENSITY,
    MEASURES,
    ROWS,
    SHAPE,
    TARGET,
    TARGET_COLUMNS,
    Measure,
)
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.model.settings import Settings
from plotmap.model.thinning import species_named

_Row = dict[str, object]
_OF_KIND = {SHAPE: ("shape_power",), ROWS: ("row_share_pct",), TARGET: TARGET_COLUMNS}
"""Columns that a kind needs, and no other has but ``row_share_pct``."""


def check_prescriptions(
    rules: pl.DataFrame,
    compartments: Sequence[str],
    strata: Sequence[str],
    stems: Sequence[pl.DataFrame],
    settings: Settings,
    source: str,
) -> Findings:
    """Check the rules of thinning against themselves and the survey.

    Parameters
    ----------
    rules : polars.DataFrame
        Columns of `PRESCRIPTIONS` and ``source_row``.
    compartments, strata : sequence of str
        Those of the layer.
    stems : sequence of polars.DataFrame
        Tables with a column ``species`` (and perhaps ``group``): what the rules may name.
    settings : Settings
        Largest Reineke indexes.
    source : str
        File of the rules.

    Returns
    -------
    Findings
        prescription-without-place, prescription-elsewhere, prescription-twice, prescription-incomplete,
        prescription-contradictory, prescription-species-unknown.
    """
    found = [
        _places(rules, source),
        *(
            _elsewhere(rules, what, names, source)
            for what, names in (("compartment", compartments), ("stratum", strata))
        ),
        *(_twice(rules, what, source) for what in ("compartment", "stratum")),
        _unknown_species(rules, stems, source),
    ]
    whole = rules.filter(pl.col("criterion").is_not_null() & pl.col("kind").is_not_null())
    for row in whole.iter_rows(named=True):
        made = {
            "prescription-incomplete": _lacks(row, settings),
            "prescription-contradictory": _contradicts(row),
        }
        found += [_told(code, row, source, *words) for code, all_words in made.items() for words in all_words]
    return Findings.join(found)


def _told(code: str, row: _Row, source: str, column: str, message: str) -> Findings:
    """Return one finding about a cell of a rule."""
    place = row["compartment"]
    value = row.get(column)
    shown = f"{value:g}" if isinstance(value, float) else value
    return finding(
        code,
        source,
        message,
        row=int(str(row["source_row"])),
        column=column,
        compartment=None if place is None else str(place),
        value=None if shown is None else str(shown),
    )


def _places(rules: pl.DataFrame, source: str) -> Findings:
    """Return prescription-without-place."""
    both = pl.col("compartment").is_not_null() & pl.col("stratum").is_not_null()
    neither = pl.col("compartment").is_null() & pl.col("stratum").is_null()
    words = (
        pl.when(both)
        .then(pl.lit("the rule names a compartment and a stratum, but is for one of them"))
        .otherwise(pl.lit("the rule names neither a compartment nor a stratum"))
    )
    return findings_of(
        "prescription-without-place",
        rules.filter(both | neither),
        source,
        words,
        compartment="compartment",
        column="compartment",
    )


def _elsewhere(rules: pl.DataFrame, what: str, names: Sequence[str], source: str) -> Findings:
    """Return prescription-elsewhere."""
    rows = rules.filter(pl.col(what).is_not_null() & ~pl.col(what).is_in(list(names)))
    near = [nearest(name, list(names)) for name in rows[what]]
    rows = rows.with_columns(pl.Series("near", near, dtype=pl.String))
    meant = (
        pl.when(pl.col("near").is_null()).then(pl.lit("")).otherwise(pl.format("; {} may be meant", "near"))
    )
    message = pl.format(f"{what} {{}} is not in the layer of compartments{{}}", what, meant)
    place = what if what == "compartment" else None
    return findings_of(
        "prescription-elsewhere", rows, source, message, compartment=place, column=what, value=what
    )


def _twice(rules: pl.DataFrame, what: str, source: str) -> Findings:
    """Return prescription-twice."""
    named = rules.filter(pl.col(what).is_not_null())
    again = named.with_columns(pl.col("source_row").first().over(what).alias("first")).filter(
        pl.col("source_row") != pl.col("first")
    )
    message = pl.format(f"{what} {{}} has a rule already, in row {{}}", what, "first")
    place = what if what == "compartment" else None
    return findings_of(
        "prescription-twice", again, source, message, compartment=place, column=what, value=what
    )


def _unknown_species(rules: pl.DataFrame, stems: Sequence[pl.DataFrame], source: str) -> Findings:
    """Return prescription-species-unknown."""
    known: set[str] = set()
    for table in stems:
        for column in ("species", "group"):
            if column in table.columns:
                known |= set(table[column].drop_nulls().to_list())
    found = []
    for row in rules.filter(pl.col("never_cut").is_not_null()).iter_rows(named=True):
        for name in species_named(row["never_cut"]):
            if name in known:
                continue
            near = nearest(name, sorted(known))
            meant = f"; {near} may be meant" if near else ""
            message = f"no stem and no row of the species table is called {name}{meant}"
            found.append(_told("prescription-species-unknown", row, source, "never_cut", message))
    return Findings.join(found)


def _lacks(row: _Row, settings: Settings) -> Iterable[tuple[str, str]]:
    """Yield the column and the words of everything a rule lacks."""
    criterion, kind = str(row["criterion"]), str(row["kind"])
    measure = _measure(criterion)
    if row[measure.trigger] is None:
        yield measure.trigger, f"criterion is {criterion}, but {measure.trigger} is missing"
    for column in _OF_KIND.get(kind, ()):
        if row[column] is None:
            yield column, f"kind is {kind}, but {column} is missing"
    given = [one for one in MEASURES if row[one.residual] is not None]
    if not given and kind != ROWS:
        names = ", ".join(one.residual for one in MEASURES)
        yield "kind", f"no residual is given: one of {names} must say what stays"
    if kind == TARGET and given and row["residual_basal_area_m2_per_ha"] is None:
        yield (
            "residual_basal_area_m2_per_ha",
            "a target distribution is made from residual_basal_area_m2_per_ha, which is missing",
        )
    named = {criterion, *(one.word for one in given)}
    if DENSITY in named and not settings.density.maxima:
        yield (
            "criterion",
            "relative density needs the largest Reineke indexes, but [density] maxima of the settings is not set",
        )


def _contradicts(row: _Row) -> Iterable[tuple[str, str]]:
    """Yield the column and the words of everything in a rule that cannot be followed together with the rest."""
    criterion, kind = str(row["criterion"]), str(row["kind"])
    for one in MEASURES:
        if one.word != criterion and row[one.trigger] is not None:
            yield one.trigger, f"{one.trigger} is given, but criterion is {criterion}"
    given = [one for one in MEASURES if row[one.residual] is not None]
    if len(given) > 1:
        names = " and ".join(one.residual for one in given)
        yield given[1].residual, f"{names} are given, but one must say what stays"
    for column in (name for word, names in _OF_KIND.items() if word not in (kind, ROWS) for name in names):
        if row[column] is not None:
            yield column, f"{column} is given, but kind is {kind}"
    if kind == TARGET and row["row_share_pct"] is not None:
        yield "row_share_pct", "row_share_pct is given, but a target distribution has no rows"
    measure = _measure(criterion)
    trigger, residual = _number(row, measure.trigger), _number(row, measure.residual)
    if trigger is not None and residual is not None:
        ends_denser = residual <= trigger if measure.falls else residual >= trigger
        if ends_denser:
            order = "more" if measure.falls else "less"
            needed = f"{measure.trigger}, {trigger:g} {measure.unit}"
            yield (
                measure.residual,
                f"{measure.residual} is {residual:g} {measure.unit}, but must be {order} than {needed}",
            )
    yield from _floors(row, criterion, trigger)
    low, high = _number(row, "target_smallest_dbh_cm"), _number(row, "target_largest_dbh_cm")
    if low is not None and high is not None and low >= high:
        yield (
            "target_smallest_dbh_cm",
            f"target_smallest_dbh_cm is {low:g} cm, but must be less than target_largest_dbh_cm, {high:g} cm",
        )


def _floors(row: _Row, criterion: str, trigger: float | None) -> Iterable[tuple[str, str]]:
    """Yield smallest residuals that lie above what the rule wants to stay, or above its trigger."""
    for name, word in (("smallest_basal_area_m2_per_ha", BASAL_AREA), ("smallest_stems_per_ha", "stems")):
        floor, measure = _number(row, name), _measure(word)
        if floor is None:
            continue
        residual = _number(row, measure.residual)
        if residual is not None and row["kind"] != TARGET and floor > residual:
            yield (
                name,
                f"{name} is {floor:g}, but must be at most {measure.residual}, {residual:g} {measure.unit}",
            )
        elif residual is None and word == criterion and trigger is not None and floor >= trigger:
            yield name, f"{name} is {floor:g}, but must be less than {measure.trigger}, {trigger:g}"


def _measure(word: str) -> Measure:
    """Return the measure that a word of ``criterion`` names."""
    return next(measure for measure in MEASURES if measure.word == word)


def _number(row: _Row, column: str) -> float | None:
    """Return a number of a rule, None where it is missing."""
    value = row[column]
    return float(value) if isinstance(value, (int, float)) else None
