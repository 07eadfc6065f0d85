"""What passes to and from the stage of thinning: the stems as they stand, a rule, and the proposals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd
import polars as pl

from plotmap.model.class_rule import ClassRule
from plotmap.model.field_tables_thinning import MEASURES, Measure


@dataclass(frozen=True, slots=True)
class Rule:
    """A row of the table of prescriptions; what is missing is None, shares are in per cent as written.

    Attributes
    ----------
    rule, compartment, stratum, criterion, kind, min_plots, shape_power, row_share_pct, source
        As `plotmap.model.field_tables_thinning.PRESCRIPTIONS` has them.
    target_smallest_dbh_cm, target_largest_dbh_cm, target_q, target_class_width_cm
        The target distribution.
    largest_share_pct, smallest_basal_area_m2_per_ha, smallest_stems_per_ha
        Limits of a visit.
    kept_from_dbh_cm, retention_stems_per_ha
        What stays.
    never_cut : tuple of str
        Species that are not cut.
    trigger : float
        Of the criterion, in its unit.
    residual_measure : Measure or None
        Whose residual is given; None with kind rows without one.
    residual : float or None
        That residual, in the unit of its measure.
    """

    rule: str
    criterion: str
    kind: str
    min_plots: int
    trigger: float
    residual_measure: Measure | None
    residual: float | None
    compartment: str | None = None
    stratum: str | None = None
    shape_power: float | None = None
    row_share_pct: float | None = None
    target_smallest_dbh_cm: float | None = None
    target_largest_dbh_cm: float | None = None
    target_q: float | None = None
    target_class_width_cm: float | None = None
    largest_share_pct: float | None = None
    smallest_basal_area_m2_per_ha: float | None = None
    smallest_stems_per_ha: float | None = None
    kept_from_dbh_cm: float | None = None
    retention_stems_per_ha: float | None = None
    never_cut: tuple[str, ...] = ()
    source: str | None = None

    @property
    def measure(self) -> Measure:
        """The measure of the criterion."""
        return next(measure for measure in MEASURES if measure.word == self.criterion)


def species_named(text: str | None) -> tuple[str, ...]:
    """Return the species of a cell of ``never_cut``: between semicolons, without blanks around them."""
    return tuple(dict.fromkeys(part.strip() for part in (text or "").split(";") if part.strip()))


def rule_of(row: Mapping[str, object]) -> Rule:
    """Return a row of the table of prescriptions as a rule.

    Parameters
    ----------
    row : mapping of str to object
        Columns of `PRESCRIPTIONS`; complete, as the checks of reading leave it.
    """
    cells = {name: row.get(name) for name in Rule.__dataclass_fields__ if name in row}
    measure = next(measure for measure in MEASURES if measure.word == row["criterion"])
    stays = next((one for one in MEASURES if row.get(one.residual) is not None), None)
    text = row.get("never_cut")
    made: dict[str, object] = cells | {
        "trigger": row[measure.trigger],
        "residual_measure": stays,
        "residual": None if stays is None else row[stays.residual],
        "never_cut": species_named(text if isinstance(text, str) else None),
    }
    return Rule(**made)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class StemParts:
    """Stems and plots as the removals need them.

    Attributes
    ----------
    stems : polars.DataFrame
        One row a stem measured, or a size class's part of a tally row: ``plot``, ``compartment``, ``species``,
        ``species_written``, ``class_index``, ``dbh_cm``, ``square_cm2``, and what it adds to its plot's sums:
        ``stems``, ``live`` (stems that live), ``basal_area_m2``, ``dbh_sum_cm``, ``density`` (share of the largest
        Reineke index; missing where its species has none) and ``volume_m3`` (missing where it has none).
    units : polars.DataFrame
        One row a plot, or a compartment counted whole: ``compartment``, ``plot``, ``area`` (ha, or 1), ``n_full``
        (above 0: counted whole), ``top`` and ``top_h`` (their quotient over all plots is the top height in m) and
        ``n_top_missing`` (stems of the top height without a height).
    rule : ClassRule
        The size classes.
    """

    stems: pl.DataFrame
    units: pl.DataFrame
    rule: ClassRule


@dataclass(frozen=True, slots=True)
class Standing:
    """The estimates that proposals begin from.

    Attributes
    ----------
    compartments : pandas.DataFrame
        Columns of `plotmap.model.result_tables.COMPARTMENT_RESULTS`.
    stand_density, volumes : polars.DataFrame
        `STAND_DENSITY_RESULTS` and `VOLUME_RESULTS`.
    visits : polars.DataFrame
        ``compartment``, ``measured_from`` and ``measured_to``: first and last day of its plots, missing where not
        known.
    """

    compartments: pd.DataFrame
    stand_density: pl.DataFrame
    volumes: pl.DataFrame
    visits: pl.DataFrame


@dataclass(frozen=True, slots=True)
class Proposals:
    """What is proposed.

    Attributes
    ----------
    proposals, removals : polars.DataFrame
        `PROPOSAL_RESULTS` and `REMOVAL_RESULTS` of `plotmap.model.result_tables_thinning`.
    cautions : tuple of str
        Sentences to be printed with every proposal, in the language of the survey.
    """

    proposals: pl.DataFrame
    removals: pl.DataFrame
    cautions: tuple[str, ...]
