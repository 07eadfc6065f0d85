"""Proposals for all compartments: which rule, is a thinning due, what is taken."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from plotmap.model.columns import Kind, Table
from plotmap.model.field_tables_thinning import BASAL_AREA, DENSITY, SPACING, STEMS
from plotmap.model.labels import Labels, labels_of
from plotmap.model.result_tables import FULL_COUNT
from plotmap.model.result_tables_heights import ALL_SPECIES, NO_EQUATION, NO_HEIGHTS
from plotmap.model.result_tables_thinning import (
    CANNOT_TELL,
    LIKELY,
    NO_MAXIMUM,
    NO_RULE,
    NOTHING_TO_CUT,
    PROPOSAL_RESULTS,
    PROPOSED,
    REMOVAL_RESULTS,
    TOO_FEW_PLOTS,
    UNLIKELY,
)
from plotmap.model.scopes import COMPARTMENT
from plotmap.model.settings import Settings
from plotmap.model.thinning import Proposals, Rule, Standing, StemParts
from plotmap.thinning.building import cells_of, ground_of
from plotmap.thinning.candidates import Estimate, judge
from plotmap.thinning.cautions import caution_of, cautions_of
from plotmap.thinning.kinds import order_of
from plotmap.thinning.one_compartment import deficit, figures, proposed, removal_rows, spacing, target_of
from plotmap.thinning.rules import rules_by_compartment

_Row = dict[str, object]
_TYPES = {Kind.NUMBER: pl.Float64, Kind.COUNT: pl.Int64, Kind.DATE: pl.Date}
_FIGURES = {BASAL_AREA: "basal_area_m2_per_ha", STEMS: "stems_per_ha"}
_OF_DENSITY = {DENSITY: "relative_density_pct", SPACING: "relative_spacing_pct"}
_UNKNOWN = {DENSITY: NO_MAXIMUM, SPACING: NO_HEIGHTS}


@dataclass(frozen=True, slots=True)
class _Place:
    """A compartment with what is known about it."""

    row: _Row
    density: _Row
    visit: _Row
    volume_status: str
    stems: pl.DataFrame
    units: pl.DataFrame


def propose(
    prescriptions: pl.DataFrame, parts: StemParts, standing: Standing, settings: Settings
) -> Proposals:
    """Propose thinnings by the rules of the officer.

    For each compartment with a rule: the probability that its criterion is met and, where that is likely, what the
    rule takes from each species and class, with ranges over bootstrap draws of its plots. In each draw the removal is
    computed anew from what the draw would have estimated; whether a thinning is due at all is said by the probability
    and is not part of the ranges.

    Parameters
    ----------
    prescriptions : polars.DataFrame
        Columns of `plotmap.model.field_tables_thinning.PRESCRIPTIONS`, without errors.
    parts : StemParts
        Stems and plots.
    standing : Standing
        Estimates.
    settings : Settings
        Thresholds, draws, confidence and language.

    Returns
    -------
    Proposals
        A row for every compartment, in their order; the rows of removals only where one is proposed.
    """
    labels = labels_of(settings)
    places = _places(parts, standing)
    strata = {name: str(place.row["stratum"]) for name, place in places.items()}
    rules = rules_by_compartment(prescriptions, strata)
    rows, removals = [], []
    for name, place in places.items():
        own = rules.get(name)
        if own is None:
            rows.append(_bare(place) | {"status": NO_RULE})
            continue
        row, taken = _one(name, place, own, parts, settings, labels)
        rows.append(row)
        if taken is not None:
            removals.append(taken.with_columns(pl.lit(name).alias("compartment")))
    proposals = _declared(PROPOSAL_RESULTS, rows)
    empty = _declared(REMOVAL_RESULTS, [])
    table = pl.concat([empty, *(part.select(empty.columns).cast(empty.schema) for part in removals)])
    return Proposals(proposals, table, cautions_of(proposals, labels))


def _places(parts: StemParts, standing: Standing) -> dict[str, _Place]:
    """Return the compartments by name, in their order."""
    stems = {str(key[0]): rows for key, rows in parts.stems.group_by("compartment", maintain_order=True)}
    units = {str(key[0]): rows for key, rows in parts.units.group_by("compartment", maintain_order=True)}
    density = {
        row["name"]: row
        for row in standing.stand_density.filter(pl.col("scope") == COMPARTMENT).iter_rows(named=True)
    }
    volumes = standing.volumes.filter(
        (pl.col("scope") == COMPARTMENT) & (pl.col("species") == ALL_SPECIES)
    ).select("name", "status")
    status = dict(volumes.iter_rows())
    visits = {row["compartment"]: row for row in standing.visits.iter_rows(named=True)}
    table: list[_Row] = standing.compartments.drop(columns="geometry", errors="ignore").to_dict("records")  # type: ignore[assignment]
    return {
        name: _Place(
            row,
            density.get(name, {}),
            visits.get(name, {}),
            status.get(name, NO_EQUATION),
            stems.get(name, parts.stems.clear()),
            units.get(name, parts.units.clear()),
        )
        for name, row in ((str(row["compartment"]), row) for row in table)
    }


def _bare(place: _Place) -> _Row:
    """Return the columns of a proposal that every compartment has."""
    row = place.row
    return {
        **{name: row[name] for name in ("compartment", "name", "stratum", "area_ha")},
        "net_area_ha": row["area_ha"],
        "n_plots": row["n_plots"],
        "basal_area_m2_per_ha": _number(row["basal_area_m2_per_ha"]),
        "stems_per_ha": _number(row["stems_per_ha"]),
        **{name: place.visit.get(name) for name in ("measured_from", "measured_to")},
    }


def _number(value: object) -> float | None:
    """Return a number of a table, None where it is missing."""
    return float(value) if isinstance(value, (int, float)) and not np.isnan(value) else None


def _one(
    name: str,
    place: _Place,
    own: tuple[Rule, str],
    parts: StemParts,
    settings: Settings,
    labels: Labels,
) -> tuple[_Row, pl.DataFrame | None]:
    """Return the row of a compartment with a rule, and the rows of its removal where one is proposed."""
    rule, words = own
    estimate = _estimate(place, rule)
    row = (
        _bare(place)
        | _of_rule(rule, words)
        | {
            "criterion_estimate": _number(estimate.value),
            "criterion_se": _number(estimate.se),
        }
    )
    if not estimate.whole and estimate.n_plots < rule.min_plots:
        return row | {"status": TOO_FEW_PLOTS}, None
    if np.isnan(estimate.value) or (np.isnan(estimate.se) and not estimate.whole):
        # without stems there is neither a top height nor a spacing, and nothing that calls for thinning
        nothing_stands = place.row["stems_per_ha"] == 0
        return row | {"status": NOTHING_TO_CUT if nothing_stands else _UNKNOWN[rule.criterion]}, None
    fraction = _number(place.row.get("sampling_fraction")) or 0.0
    ground = ground_of(place.units, name, settings.thinning, fraction)
    cells = cells_of(place.stems, ground, rule, parts.rule)
    drawn = spacing(cells, ground.top_height_m)[1:] if rule.criterion == SPACING else None
    candidate = judge(estimate, rule, settings.thinning, drawn)
    row |= {
        "probability": candidate.probability,
        "probability_by": candidate.by,
        "candidate": candidate.word,
        "n_plots_more": candidate.n_plots_more,
    }
    if candidate.word != LIKELY:
        return row | {"status": UNLIKELY if candidate.word == UNLIKELY else CANNOT_TELL}, None
    if lacking := _lacking(rule, cells.sums["density"], ground.top_height_m):
        return row | {"status": lacking}, None
    target = target_of(rule, parts.rule)
    removal, wanted = proposed(cells, rule, target, ground.top_height_m)
    confidence = settings.survey.confidence
    row |= figures(cells, rule, removal, ground.top_height_m, confidence)
    row |= {"limit": removal.limit[0], "volume_status": place.volume_status}
    if target is not None:
        row["deficit_stems_per_ha"] = deficit(cells, target)
    may = order_of(cells, rule, wanted).open[:, 0]
    net_area = float(str(row["net_area_ha"]))
    taken = removal_rows(
        cells, removal, may, parts.rule, target=target, net_area_ha=net_area, confidence=confidence
    )
    row["cut_stems_total"] = int(taken["cut_stems"].sum())
    for per_ha, total in (
        ("cut_basal_area_m2_per_ha", "cut_basal_area_m2_total"),
        ("cut_volume_m3_per_ha", "cut_volume_m3_total"),
    ):
        figure = _number(row[per_ha])
        row[total] = None if figure is None else figure * net_area
    if not _number(row["cut_stems_per_ha"]):
        return row | {"status": NOTHING_TO_CUT}, None
    share = float(str(row["basal_area_cut_pct"]))
    caution = caution_of(rule, str(row["limit"]), share, settings.thinning, labels)
    return row | {"status": PROPOSED, "cautions": caution}, taken


def _lacking(rule: Rule, density: np.ndarray, top_height_m: np.ndarray) -> str | None:
    """Return the status where the residual cannot be computed."""
    word = rule.residual_measure.word if rule.residual_measure else ""
    if word == DENSITY and np.isnan(density).any():
        return NO_MAXIMUM
    return NO_HEIGHTS if word == SPACING and np.isnan(top_height_m[0]) else None


def _estimate(place: _Place, rule: Rule) -> Estimate:
    """Return the estimate of a rule's criterion in a compartment."""
    figure = _FIGURES.get(rule.criterion) or _OF_DENSITY[rule.criterion]
    table = place.row if rule.criterion in _FIGURES else place.density
    value, se = _number(table.get(figure)), _number(table.get(f"{figure}_se"))
    missing = float("nan")
    return Estimate(
        missing if value is None else value,
        missing if se is None else se,
        int(str(place.row["n_plots"])),
        place.row["status"] == FULL_COUNT,
    )


def _of_rule(rule: Rule, words: str) -> _Row:
    """Return the columns of a proposal that say what the rule is."""
    return {
        "rule": rule.rule,
        "rule_text": words,
        "rule_source": rule.source,
        "criterion": rule.criterion,
        "criterion_unit": rule.measure.unit,
        "trigger": rule.trigger,
        "kind": rule.kind,
        "residual_unit": rule.residual_measure.unit if rule.residual_measure else None,
        "residual": rule.residual,
    }


def _declared(table: Table, rows: list[_Row]) -> pl.DataFrame:
    """Return rows as a frame with the declared columns."""
    schema = {column.name: _TYPES.get(column.kind, pl.String) for column in table.columns}
    return pl.DataFrame([{name: row.get(name) for name in schema} for row in rows], schema=schema)
